"""A format's proof of itself: every operating and control cut of each position pinned and turned.

>>> from pinning.formats import load
>>> proof = prove_format(load("small-a2-5"))
>>> proof.tried, len(proof.impossible), proof.impossible[0]
(500, 5, Impossible(position=1, operating=9, control=0, code='unbuildable'))
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace

from pinning.bittings import parse_any_bitting
from pinning.errors import Refusal, Refused
from pinning.formats import EMPTY, CoreFormat
from pinning.shear import turn
from pinning.stacks import pin
from pinning.wording import said

__all__ = ["FormatProof", "Impossible", "prove_format"]

Pair = tuple[int, int | None]  # an operating and a control cut
Row = dict[int, Pair]  # by position; the others stay without pins


@dataclass(frozen=True, slots=True)
class Impossible:
    """Cuts of one position that cannot be built, as depth numbers; `control` is None outside a sleeve.

    `code` is that of the first reason.
    """

    position: int
    operating: int
    control: int | None
    code: str
    reasons: tuple[str, ...] = field(repr=False)

    @property
    def reason(self) -> str:
        return " ".join(self.reasons)


@dataclass(frozen=True, slots=True)
class FormatProof:
    """How many cases were tried, one per position and cut or pair of cuts, and those that cannot be built."""

    tried: int
    impossible: tuple[Impossible, ...]


def prove_format(format: CoreFormat) -> FormatProof:
    """Pins every operating cut with every control cut into every position and turns the keys.

    The adjacent-cut limit concerns keys, not positions, and is left out; kit, totals and drivers decide.
    """
    plain = [place for place in range(1, format.positions + 1) if place not in format.sleeve]
    free, depths = replace(format, macs=None), format.depth_values
    found = [*_outside(replace(free, control=None), plain), *_under(free)]
    tried = len(plain) * len(depths) + len(format.sleeve) * len(depths) ** 2
    return FormatProof(tried, tuple(sorted(found, key=_place)))


def _place(impossible: Impossible) -> tuple[int, int, int]:
    return impossible.position, impossible.operating, impossible.control or 0


def _outside(format: CoreFormat, positions: Collection[int]) -> Iterator[Impossible]:
    """Positions without a sleeve are those of an ordinary cylinder."""
    for cut in format.depth_values if positions else ():
        yield from _tried(format, dict.fromkeys(positions, (cut, None)), positions)


def _under(format: CoreFormat) -> Iterator[Impossible]:
    witness: Pair | None = None
    for operating in format.depth_values if format.sleeve else ():
        for control in format.depth_values:
            if control != operating:
                row: Row = dict.fromkeys(format.sleeve, (operating, control))
                found = list(_tried(format, row, format.sleeve))
                witness = witness or (None if found else (operating, control))
                yield from found
    for cut in format.depth_values if format.sleeve else ():
        yield from _shared(format, cut, witness)


def _shared(format: CoreFormat, cut: int, witness: Pair | None) -> Iterator[Impossible]:
    """A control cut equal to the operating cut: possible if another position tells the two keys apart."""
    first, *rest = format.sleeve
    row: Row = dict.fromkeys(format.sleeve, (cut, cut))
    if not rest or witness is None:
        yield from _tried(format, row, format.sleeve)
        return
    yield from _tried(format, row | {first: witness}, rest)
    yield from _tried(format, {first: (cut, cut), rest[0]: witness}, [first])


def _tried(format: CoreFormat, row: Row, positions: Collection[int]) -> Iterator[Impossible]:
    """What is wrong with the cuts in these positions of the row."""
    refusals = _refusals(format, row)
    for position in positions if refusals else ():
        if found := [refusal for refusal in refusals if refusal.position in (None, position)]:
            reasons = tuple(refusal.message for refusal in found)
            yield Impossible(position, *row[position], found[0].code, reasons)


def _refusals(format: CoreFormat, row: Row) -> Collection[Refusal]:
    operating = _text(format, {position: pair[0] for position, pair in row.items()})
    control = _text(format, {position: pair[1] for position, pair in row.items()})
    try:
        core = pin(format, [operating], control if format.sleeve else None)
    except Refused as refused:
        return refused.refusals
    keys = [parse_any_bitting(format, text.replace(EMPTY, format.depths[0])) for text in (operating, control)]
    own, withdrawing = turn(core, keys[0]), turn(core, keys[1])
    if own.operates and not own.withdraws and (withdrawing.withdraws or not format.sleeve):
        return ()
    return (Refusal("turn", said("The pins do not turn as they should; check the format's figures.")),)


def _text(format: CoreFormat, cuts: dict[int, int | None]) -> str:
    row = [cuts.get(position) for position in range(1, format.positions + 1)]
    return "".join(EMPTY if cut is None else format.symbol_of(cut) for cut in row)
