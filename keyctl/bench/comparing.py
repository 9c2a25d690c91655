"""What a set of pins does to the keys of its keyway, beside what the plan means it to do."""

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.cores.selectors import planned_keys
from keyctl.systems.access import visible_symbols
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import control_of

EFFECTS = {
    (True, True): gettext_lazy("turns it and takes the core out"),
    (True, False): gettext_lazy("turns it"),
    (False, True): gettext_lazy("takes the core out"),
    (False, False): gettext_lazy("does nothing"),
}


@dataclass(frozen=True)
class KeyEffect:
    """What one key does by the pins, and what it was meant to do."""

    symbol: KeySymbol
    operates: bool
    withdraws: bool
    meant_to_operate: bool
    meant_to_withdraw: bool

    @property
    def effect(self) -> str:
        return str(EFFECTS[self.operates, self.withdraws])

    @property
    def meant(self) -> str:
        return str(EFFECTS[self.meant_to_operate, self.meant_to_withdraw])

    @property
    def is_as_planned(self) -> bool:
        return (self.operates, self.withdraws) == (self.meant_to_operate, self.meant_to_withdraw)


@dataclass(frozen=True)
class Comparison:
    """``unseen`` counts keys of other sites' systems that these pins let in."""

    effects: tuple[KeyEffect, ...]
    unseen: int = 0

    @property
    def disagreements(self) -> tuple[KeyEffect, ...]:
        return tuple(effect for effect in self.effects if not effect.is_as_planned)

    @property
    def count(self) -> int:
        """How many keys do something else than planned; one of another site is never planned."""
        return len(self.disagreements) + self.unseen


def compare_with_plan(actor: User, core: Core, turns: Iterable[Turn]) -> Comparison:
    found = {turn.symbol_id: turn for turn in turns}
    planned = set(planned_keys([core.pk])[core.pk])
    control = control_of(core.system) if core.system else None
    removing = {control.pk} if control else set()
    wanted = found.keys() | planned | removing
    symbols = visible_symbols(actor).filter(pk__in=wanted).order_by("system__code", "level", "symbol")
    effects = tuple(_effect(symbol, found, planned, removing) for symbol in symbols)
    return Comparison(effects, len(wanted) - len(effects))


def _effect(symbol: KeySymbol, found: dict[UUID, Turn], planned: set[UUID], removing: set[UUID]) -> KeyEffect:
    turn = found.get(symbol.pk)
    return KeyEffect(
        symbol,
        operates=turn is not None and turn.operates,
        withdraws=turn is not None and turn.withdraws,
        meant_to_operate=symbol.pk in planned,
        meant_to_withdraw=symbol.pk in removing,
    )


def positions_that_differ(one: engine.Pinning, other: engine.Pinning) -> tuple[int, ...]:
    pairs = zip(one.stacks, other.stacks, strict=True)
    return tuple(mine.position for mine, theirs in pairs if mine != theirs)
