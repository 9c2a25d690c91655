"""Who may take a list of a whole system out of the house, and who reads the register of that."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.places.access import site_for
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.prints.models import Export
from keyctl.systems.models import KeySystem

BITTING_TAKERS = (Role.LOCKSMITH, Role.OFFICER)
# Who may learn which key opens which door; no bitting.
PLAN_TAKERS = (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR)
TAKERS = {kind: BITTING_TAKERS if kind == Export.Kind.BITTINGS else PLAN_TAKERS for kind in Export.Kind}
SYSTEM_KINDS = (Export.Kind.BITTINGS, Export.Kind.SCHEDULE)
PLACE_KINDS = (Export.Kind.DOORS, Export.Kind.CHART, Export.Kind.BINDER)
REGISTER_READERS = (Role.OFFICER, Role.AUDITOR)


def takers_of(kind: Export.Kind, *, holds_bittings: bool) -> tuple[Role, ...]:
    return BITTING_TAKERS if holds_bittings else TAKERS[kind]


def exporting_site(actor: User, pk: UUID) -> Site:
    """A site whose doors and keys the actor may take lists of."""
    return site_for(actor, pk, *PLAN_TAKERS)


def sites_to_export_at(actor: User, system: KeySystem, kind: Export.Kind) -> QuerySet[Site]:
    """The sites of a system where the actor may take such a list."""
    return Site.objects.for_roles(actor, *TAKERS[kind]).filter(key_systems=system)


def own_export(actor: User, pk: UUID) -> Export:
    """Another's is not found, whoever asks: nobody has it made but who asked for it."""
    return get_object_or_404(
        Export.objects.select_related("system", "building", "site", "actor"), pk=pk, actor=actor
    )


def waiting_exports(actor: User, thing: KeySystem | Site) -> QuerySet[Export]:
    """Lists with bittings that the person asked for and that are not made."""
    about = {"system": thing} if isinstance(thing, KeySystem) else {"site": thing, "system": None}
    mine = Export.objects.filter(actor=actor, holds_bittings=True, job__isnull=True, **about)
    return mine.filter(made_at__isnull=True).select_related("system", "building", "site")


def readable_exports(actor: User) -> QuerySet[Export]:
    sites = Site.objects.for_roles(actor, *REGISTER_READERS)
    return Export.objects.filter(site__in=sites).select_related("system", "building", "site", "actor", "job")
