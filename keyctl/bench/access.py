"""Who works at the bench: a locksmith, at the site whose cores and keys lie on it."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet

from keyctl.accounts.models import User
from keyctl.cores.access import visible_cores
from keyctl.cores.models import Core
from keyctl.lib.tags import clean_tag
from keyctl.orders.access import workable_site, workable_sites
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem


def bench_site(actor: User, pk: UUID | None = None) -> Site:
    """The site at whose bench the actor stands; the first of theirs unless they name one."""
    if pk is not None:
        return workable_site(actor, pk)
    if site := workable_sites(actor).first():
        return site
    raise PermissionDenied


def workable_systems(actor: User) -> QuerySet[KeySystem]:
    return KeySystem.objects.at_sites(workable_sites(actor))


def site_of(actor: User, system: KeySystem) -> Site:
    """The site at whose bench the actor handles a key of a system that several sites may share."""
    return workable_sites(actor).filter(key_systems=system)[0]


def core_tagged(actor: User, text: str) -> Core | None:
    """A core at one of the actor's benches; a scanner types the whole address on the tag."""
    tag = clean_tag(text.rsplit("/", 1)[-1])
    here = visible_cores(actor).filter(site__in=workable_sites(actor))
    return here.filter(tag=tag).first() if tag else None
