"""Who may take a list of a whole system out of the house, and who reads the register of that."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.prints.models import Export
from keyctl.systems.models import KeySystem

TAKERS = {
    Export.Kind.BITTINGS: (Role.LOCKSMITH, Role.OFFICER),
    # It tells which key opens which door, and no bitting.
    Export.Kind.SCHEDULE: (Role.LOCKSMITH, Role.MANAGER, Role.OFFICER, Role.AUDITOR, Role.ADMINISTRATOR),
}
REGISTER_READERS = (Role.OFFICER, Role.AUDITOR)


def sites_to_export_at(actor: User, system: KeySystem, kind: Export.Kind) -> QuerySet[Site]:
    """The sites of a system where the actor may take such a list."""
    return Site.objects.for_roles(actor, *TAKERS[kind]).filter(key_systems=system)


def own_export(actor: User, pk: UUID) -> Export:
    """Another's is not found, whoever asks: nobody has it made but who asked for it."""
    return get_object_or_404(Export.objects.select_related("system", "site", "actor"), pk=pk, actor=actor)


def waiting_exports(actor: User, system: KeySystem) -> QuerySet[Export]:
    """Bitting lists that the person asked for and that are not made."""
    mine = Export.objects.filter(actor=actor, system=system, kind=Export.Kind.BITTINGS, job__isnull=True)
    return mine.filter(made_at__isnull=True).select_related("system", "site")


def readable_exports(actor: User) -> QuerySet[Export]:
    sites = Site.objects.for_roles(actor, *REGISTER_READERS)
    return Export.objects.filter(site__in=sites).select_related("system", "site", "actor", "job")
