"""Key systems and symbols that a person may look at: those used at one of their sites."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.places.access import require_role_somewhere, visible_sites
from keyctl.places.models import Membership, Site
from keyctl.places.roles import STAFF, Role
from keyctl.systems.models import KeySymbol, KeySystem, SystemDraft

# Who designs systems and adds keys to them.
DESIGNERS = (Role.LOCKSMITH, Role.ADMINISTRATOR)


def visible_systems(actor: User) -> QuerySet[KeySystem]:
    return KeySystem.objects.at_sites(visible_sites(actor))


def visible_symbols(actor: User) -> QuerySet[KeySymbol]:
    return KeySymbol.objects.filter(system__in=visible_systems(actor)).select_related("system")


def readable_system(actor: User, pk: UUID) -> KeySystem:
    system = get_object_or_404(KeySystem, pk=pk)
    require_role_somewhere(actor, system.sites.all(), *STAFF)
    return system


def readable_symbol(actor: User, pk: UUID) -> KeySymbol:
    symbol = get_object_or_404(KeySymbol.objects.select_related("system"), pk=pk)
    require_role_somewhere(actor, symbol.system.sites.all(), *STAFF)
    return symbol


def design_sites(actor: User) -> QuerySet[Site]:
    """The sites for which the actor designs key systems."""
    return Site.objects.for_roles(actor, *DESIGNERS)


def require_designer(actor: User, sites: QuerySet[Site]) -> None:
    require_role_somewhere(actor, sites, *DESIGNERS)


def designs_for(actor: User, system: KeySystem) -> bool:
    """Whether the actor may add keys to it; a page shows its buttons by this."""
    return Membership.objects.filter(user=actor, site__in=system.sites.all(), role__in=DESIGNERS).exists()


def extendable_symbol(actor: User, pk: UUID) -> KeySymbol:
    """A key below which the actor may make others."""
    symbol = get_object_or_404(KeySymbol.objects.select_related("system"), pk=pk)
    require_designer(actor, symbol.system.sites.all())
    return symbol


def visible_drafts(actor: User) -> QuerySet[SystemDraft]:
    drafts = SystemDraft.objects.filter(sites__in=design_sites(actor), made_at__isnull=True)
    return drafts.select_related("created_by").distinct()


def readable_draft(actor: User, pk: UUID) -> SystemDraft:
    """Drafts are for those who design."""
    draft = get_object_or_404(SystemDraft.objects.select_related("system"), pk=pk)
    require_designer(actor, draft.sites.all())
    return draft
