"""Showing the cuts of one key to a person."""

from uuid import UUID

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role_somewhere
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of


def reveal_key(*, actor: User, symbol: KeySymbol, reason: str) -> str:
    """The bitting of one key. History knows before the vault opens, and keeps it if the opening fails."""
    require_role_somewhere(actor, symbol.system.sites.all(), Role.LOCKSMITH)
    if not reason.strip():
        raise Refused(f"Say why you need to see the cuts of {described(symbol)}.")
    with transaction.atomic():
        record(
            actor=actor,
            verb="key.cuts_shown",
            sentence=f"looked at the cuts of {described(symbol)} ({symbol.system.code}): {reason}",
            site_id=_whose_history(symbol),
            subjects=[symbol],
        )
    return bitting_of(symbol)


def described(symbol: KeySymbol) -> str:
    """Whoever reads history sees at once that it was a master or a control key."""
    return f"{symbol.get_kind_display().lower()} {symbol}"


def may_reveal(actor: User, symbol: KeySymbol) -> bool:
    return Membership.objects.filter(
        user=actor, role=Role.LOCKSMITH, site__key_systems=symbol.system_id
    ).exists()


def _whose_history(symbol: KeySymbol) -> UUID | None:
    """A key that several sites share concerns them all: no single one, then, has the event to itself."""
    sites = list(symbol.system.sites.values_list("pk", flat=True)[:2])
    return sites[0] if len(sites) == 1 else None
