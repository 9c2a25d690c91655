"""Showing the cuts of one key to a person."""

from uuid import UUID

from django.urls import reverse

from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.keys.access import cuttable_symbol
from keyctl.lib.language import in_english, in_sentence
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.reveals.services import reveal_one
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of

KIND = "key"


def reveal_key(*, actor: User, symbol: KeySymbol, sign_in: FreshSignIn) -> str:
    """The bitting of one key. History knows before the vault opens, and keeps it if the opening fails."""
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: cuts_to_show(symbol))


def cuts_to_show(symbol: KeySymbol) -> Secret[str]:
    return Secret(
        kind=KIND,
        thing=symbol,
        words=f"the cuts of {in_english(lambda: described(symbol))} ({symbol.system.code})",
        sites=tuple(symbol.system.sites.all()),
        open=lambda: bitting_of(symbol),
        verb="key.cuts_shown",
        url=reverse("cores:symbol", args=[symbol.pk]),
        is_high=symbol.kind != KeySymbol.Kind.CHANGE,
    )


def find_cuts(actor: User, pk: UUID) -> Secret[str]:
    return cuts_to_show(cuttable_symbol(actor, pk))


def described(symbol: KeySymbol) -> str:
    """Whoever reads history sees at once that it was a master or a control key."""
    return f"{in_sentence(symbol.get_kind_display())} {symbol}"


def may_reveal(actor: User, symbol: KeySymbol) -> bool:
    return Membership.objects.filter(
        user=actor, role=Role.LOCKSMITH, site__key_systems=symbol.system_id
    ).exists()
