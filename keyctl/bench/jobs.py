"""What a page of the bench is about: a known core, or a core that only its construction is known of."""

from dataclasses import dataclass
from uuid import UUID

from django.http import Http404, QueryDict
from django.urls import reverse
from django.utils.http import urlencode

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.bench.access import bench_site
from keyctl.cores.access import workable_core
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.places.models import Site


@dataclass(frozen=True)
class Job:
    site: Site
    format: engine.CoreFormat
    core: Core | None = None

    @property
    def name(self) -> str:
        """What lies on the bench, in words that fit a sentence of history."""
        return f"core {self.core}" if self.core else f"a core without a record ({self.format.name})"


def job_of(actor: User, said: QueryDict) -> Job | None:
    """The job that an address names; None where it names none, or where the way in is still being asked."""
    if text := said.get("core"):
        core = workable_core(actor, uuid_of(text))
        return Job(core.site, engine.load_format(core.format_id), core)
    at = said.get("site")
    site = bench_site(actor, uuid_of(at) if at else None)
    text = said.get("format")
    if text and "tag" not in said:
        return Job(site, format_of(text))
    return None


def address_of(name: str, *, core: Core | None = None, format_id: str = "", site: Site | None = None) -> str:
    """The page of that name about a core, or about a format at a site."""
    said = {"core": str(core.pk)} if core else {"format": format_id}
    if site and not core:
        said["site"] = str(site.pk)
    return f"{reverse(name)}?{urlencode(said)}"


def format_of(text: str) -> engine.CoreFormat:
    try:
        return engine.load_format(text)
    except Refused:
        raise Http404 from None


def uuid_of(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise Http404 from None
