"""Who may take a list of a whole system out of the house, and who reads the register of that."""

from django.db.models import QuerySet

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


def readable_exports(actor: User) -> QuerySet[Export]:
    sites = Site.objects.for_roles(actor, *REGISTER_READERS)
    return Export.objects.filter(site__in=sites).select_related("system", "site", "actor", "job")
