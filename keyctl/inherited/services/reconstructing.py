"""Looking at a reconstruction: history knows of it before a core is opened, and nothing of it is kept."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.cores.turning import pins_of
from keyctl.inherited.access import READERS, readable_site
from keyctl.inherited.typed import typed_cores, typed_keys, typed_labels
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.reveals.services import reveal_one
from keyctl.reveals.things import Secret

KIND = "inherited"
MOST_CORES = 300


@dataclass(frozen=True)
class Asked:
    """What a person gives: cores on record and typed lines."""

    site: Site
    format_id: str
    cores: Sequence[Core] = ()
    typed: str = field(default="", repr=False)
    keys: str = field(default="", repr=False)
    next_cores: str = ""


def look_at_reconstruction(
    *, actor: User, asked: Asked, sign_in: FreshSignIn, reason: str
) -> engine.Reconstructed:
    """The likely system behind cores and keys, top master and control key among them.

    Out of cores on record it takes a second person; what was only typed is the person's own, and counts.
    """
    require_role(actor, asked.site, *READERS)
    if not reason.strip():
        raise Refused(_("Say why you need to see this."))
    refuse_cores(asked)
    format = engine.load_format(asked.format_id)
    # What was typed is read first: it is the person's own, and a slip in it is no look.
    seen, keys = typed_cores(format, asked.typed), typed_keys(format, asked.keys)
    count = len(asked.cores) + len(seen)
    wanted = replace(
        reconstruction_to_show(asked.site),
        open=lambda: worked_out(asked, seen, keys),
        is_high=bool(asked.cores),
        is_question=not asked.cores,
        sentence=f"looked at the system that {count} decoded cores make out: {reason}",
        about=tuple(asked.cores),
    )
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: wanted)


def reconstruction_to_show(site: Site) -> Secret[engine.Reconstructed]:
    """A question to a second person is about a site: which cores go into it is chosen afterwards."""
    return Secret(
        kind=KIND,
        thing=site,
        words=f"the system that decoded cores at {site} make out",
        sites=(site,),
        open=_nothing_asked,
        verb="inherited.reconstruction_shown",
        url=reverse("inherited:choose"),
        roles=READERS,
        is_high=True,
    )


def find_reconstruction(actor: User, pk: UUID) -> Secret[engine.Reconstructed]:
    return reconstruction_to_show(readable_site(actor, pk))


def _nothing_asked() -> engine.Reconstructed:
    raise Refused(_("Choose cores first."))


def worked_out(asked: Asked, seen: Sequence[engine.SeenCore], keys: dict[str, str]) -> engine.Reconstructed:
    """The same for the same things given; whoever shows it has told history."""
    stored = [engine.seen_pins(str(core), pins_of(core)) for core in asked.cores]
    names = [core.name for core in (*stored, *seen)]
    if len(set(names)) < len(names):
        raise Refused(_("Two cores have the same name. Give each its own."))
    return engine.reconstruct(asked.format_id, [*stored, *seen], keys, typed_labels(asked.next_cores))


def refuse_cores(asked: Asked) -> None:
    if not asked.cores and not asked.typed.strip():
        raise Refused(_("Choose cores whose pins are on record, or type what others gave."))
    if len(asked.cores) > MOST_CORES:
        raise Refused(_("At most {most_cores} cores are looked at together.").format(most_cores=MOST_CORES))
    for core in asked.cores:
        if core.site_id != asked.site.pk or core.format_id != asked.format_id or not core.is_pinned:
            raise Refused(
                _("Core {core} has no pins of this format on record here. Leave it out.").format(core=core)
            )
