"""Why a key does something else than planned: told by rule from the plan, the pins and history.

The plan is pinned once more, in mind only. What these pins do as well, the plan itself brings about: cross
keying, a key of another system, or cuts of several masters that come together. What they do not do comes
from other pins than planned, and the records may say how those came to be there.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from uuid import UUID

from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core, Keying
from keyctl.cores.proof import Batch, Disagreement, Kind
from keyctl.cores.services import pins_for
from keyctl.lib.days import day
from keyctl.lib.errors import Refused
from keyctl.proofs.models import LONGEST_WORDS, Cause
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import LINE, control_of, line_of
from keyctl.systems.services import bitting_of

UNPLANNED = {Kind.TURNS_UNPLANNED, Kind.WITHDRAWS_UNPLANNED}
# The events that say how the pins of a core came to be what they are.
FOUND = "core.found_pins_recorded"
PINNED = ("core.pinned", "core.pinned_many", FOUND)


@dataclass(frozen=True)
class Explained:
    found: Disagreement
    symbol: KeySymbol
    cause: Cause
    words: str

    @property
    def is_foreign(self) -> bool:
        return self.symbol.system_id != self.found.core.system_id


def explain(batch: Batch) -> Iterator[Explained]:
    """Each disagreement of a batch with its cause. What is unsealed for it is forgotten with the batch."""
    symbols = _symbols(batch)
    kept = _Bittings()
    plans: dict[UUID, _Plan] = {}
    for found in batch.disagreements:
        core, symbol = found.core, symbols[found.symbol_id]
        plan = plans.setdefault(core.pk, _Plan(core, batch.pins[core.pk], kept))
        cause, words = plan.explain(symbol, found.kind)
        yield Explained(found, symbol, cause, words[:LONGEST_WORDS])


def _symbols(batch: Batch) -> dict[UUID, KeySymbol]:
    wanted = list({found.symbol_id for found in batch.disagreements})
    found = {}
    for start in range(0, len(wanted), 500):
        part = KeySymbol.objects.filter(pk__in=wanted[start : start + 500]).select_related("system")
        found.update({symbol.pk: symbol for symbol in part})
    return found


class _Bittings:
    def __init__(self) -> None:
        self._kept: dict[UUID, str] = {}

    def __call__(self, symbol: KeySymbol) -> str:
        if symbol.pk not in self._kept:
            self._kept[symbol.pk] = bitting_of(symbol)
        return self._kept[symbol.pk]


class _Plan:
    """What a core is keyed to, and what its pins would be by that."""

    def __init__(self, core: Core, pins: engine.Pinning, bitting: _Bittings) -> None:
        if core.system is None:  # only cores of a system are proved
            raise AssertionError
        self.core, self.system, self.pins, self._bitting = core, core.system, pins, bitting

    def explain(self, symbol: KeySymbol, kind: Kind) -> tuple[Cause, str]:
        if kind in UNPLANNED and self.planned and self._does(self.planned, symbol, kind):
            return self._by_plan(symbol, kind)
        return self._by_pins(symbol, kind)

    def _by_plan(self, symbol: KeySymbol, kind: Kind) -> tuple[Cause, str]:
        if symbol.system_id != self.core.system_id:
            return self._foreign(symbol)
        if self._is_let_in_by_crossing(symbol, kind):
            names = " and ".join(sorted(keying.symbol.symbol for keying in self.keyings))
            return Cause.CROSS_KEYED, _("Cross keying of {names} lets {symbol} in.").format(
                names=names, symbol=symbol
            )
        if kind == Kind.WITHDRAWS_UNPLANNED:
            return Cause.AT_CONTROL, _(
                "The planned pins let the cuts of {symbol} pass the control line too."
            ).format(symbol=symbol)
        return (
            Cause.INCIDENTAL,
            _("Cuts of the planned keys come together as {symbol}: an incidental combination.").format(
                symbol=symbol
            ),
        )

    def _foreign(self, symbol: KeySymbol) -> tuple[Cause, str]:
        code, keyway = symbol.system.code, symbol.system.keyway
        if keyway == self.system.keyway:
            return Cause.SAME_KEYWAY, _("{symbol} belongs to {code}, which shares keyway {keyway}.").format(
                symbol=symbol, code=code, keyway=keyway
            )
        said = _("{symbol} belongs to {code}; its blank of keyway {keyway} enters {keyway_2}.").format(
            symbol=symbol, code=code, keyway=keyway, keyway_2=self.system.keyway
        )
        return Cause.OTHER_KEYWAY, said

    def _by_pins(self, symbol: KeySymbol, kind: Kind) -> tuple[Cause, str]:
        if self.planned is None:
            return Cause.UNPINNABLE, _("The keys that the core is keyed to cannot be pinned into one core.")
        if self.planned == self.pins:
            return Cause.UNKNOWN, _("The pins are as planned; the cause is not known.")
        if self._changed_since(symbol, kind):
            return (
                Cause.REPLANNED,
                _("Pinned on {day}, before its plan changed.").format(day=_day(self.core.pinned_at)),
            )
        if self._last_act == FOUND:
            return Cause.BENCH, _("The pins were read at the bench, and they differ from the plan.")
        return Cause.UNKNOWN, _("The pins are not those of the plan, and the records do not say why.")

    @cached_property
    def keyings(self) -> list[Keying]:
        return list(self.core.keyings.select_related("symbol__system", f"symbol__{LINE}"))

    @cached_property
    def control(self) -> KeySymbol | None:
        return control_of(self.system)

    @cached_property
    def planned(self) -> engine.Pinning | None:
        """None where the plan's keys cannot share a core."""
        return self._pinned(self.keyings)

    @cached_property
    def _apart(self) -> list[engine.Pinning]:
        """The pins for each of several keys alone."""
        return [pins for keying in self.keyings if (pins := self._pinned([keying])) is not None]

    @cached_property
    def _last_act(self) -> str | None:
        last = history_of(self.core).filter(verb__in=PINNED).first()
        return last.verb if last else None

    def _pinned(self, keyings: list[Keying]) -> engine.Pinning | None:
        symbols = [keying.symbol for keying in keyings]
        try:
            return pins_for(self.core.format_id, symbols, self.control, self._bitting)
        except Refused:
            return None

    def _is_let_in_by_crossing(self, symbol: KeySymbol, kind: Kind) -> bool:
        return len(self.keyings) > 1 and not any(self._does(pins, symbol, kind) for pins in self._apart)

    def _does(self, pins: engine.Pinning, symbol: KeySymbol, kind: Kind) -> bool:
        turning = engine.try_key(pins, engine.read_key(self.core.format_id, self._bitting(symbol)))
        return turning.operates if kind == Kind.TURNS_UNPLANNED else turning.withdraws

    def _changed_since(self, symbol: KeySymbol, kind: Kind) -> bool:
        """Whether what the plan says of this key is younger than the pins."""
        if kind == Kind.DOES_NOT_WITHDRAW:
            return self._is_after(_made_at(symbol))
        if kind == Kind.DOES_NOT_TURN:
            through = [keying for keying in self.keyings if symbol in line_of(keying.symbol)]
            moments = [keying.made_at for keying in through]
            return self._is_after(_made_at(symbol)) or any(map(self._is_after, moments))
        return any(self._is_after(keying.made_at) for keying in self.keyings)

    def _is_after(self, moment: datetime | None) -> bool:
        pinned_at = self.core.pinned_at
        return moment is not None and pinned_at is not None and moment > pinned_at


def _made_at(symbol: KeySymbol) -> datetime:
    """A designed key is as old as its system; others came later."""
    is_designed = symbol.origin == KeySymbol.Origin.DESIGNED
    return symbol.system.created_at if is_designed else symbol.created_at


def _day(moment: datetime | None) -> str:
    return day(moment) if moment else _("an unknown day")
