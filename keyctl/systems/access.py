"""Key systems and symbols that a person may look at: those used at one of their sites."""

from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.places.access import require_role_somewhere, visible_sites
from keyctl.places.roles import STAFF
from keyctl.systems.models import KeySymbol, KeySystem


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
