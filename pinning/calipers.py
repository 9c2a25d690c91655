"""Reading a key with calipers: from what its cuts leave of the blade to its bitting.

Wear takes metal away, so a used key reads deeper than it was cut, never shallower: a root depth belongs to
the deepest cut that it does not exceed by more than the tolerance.

>>> from pinning.formats import load
>>> a2 = load("small-a2-6")
>>> new = [a2.root_depth_in(cut) for cut in (3, 6, 1, 4, 9, 2)]
>>> read_key(a2, new).bitting.text
'361492'
>>> read_key(a2, [depth - 0.005 for depth in new]).bitting.text
'361492'
>>> reading = read_key(a2, [new[0] - 0.009, *new[1:]])
>>> reading.bitting.text, reading.doubts, reading.doubts[0].alternatives
('361492', (Doubt(position=1, what='worn'),), ('3', '4'))
"""

from dataclasses import dataclass
from itertools import pairwise

from pinning.bittings import Bitting, bitting_of
from pinning.doubts import Doubt
from pinning.errors import Refusals
from pinning.formats import CoreFormat
from pinning.measuring import DEFAULT_TOLERANCE_IN, parse_lengths, parse_tolerance

__all__ = ["KeyReading", "read_key"]


@dataclass(frozen=True, slots=True)
class KeyReading:
    """The bitting, None where a cut is no depth of the format, and what stays open."""

    bitting: Bitting | None
    doubts: tuple[Doubt, ...]


def read_key(
    format: CoreFormat, root_depths_in: object, tolerance_in: object = DEFAULT_TOLERANCE_IN
) -> KeyReading:
    """The bitting of a key whose root depths, in inches and reading order, were measured.

    Doubts, with the depth symbols that it may be: `worn` (more than half way to the next depth),
    `between_sizes` (within the tolerance of two depths), `shallow` and `deep` (beyond the depths there are),
    `macs` (adjacent cuts too far apart). Raises `Refused`: `type`, `value`, `length`, and `not_measurable`
    if the format does not say the plug's diameter.
    """
    refusals = Refusals()
    depths = parse_lengths(root_depths_in, "root_depths_in", refusals)
    tolerance = parse_tolerance(tolerance_in, refusals)
    _refuse_unreadable(format, depths, refusals)
    refusals.stop()
    cuts: list[int | None] = []
    doubts: list[Doubt] = []
    for position, depth in enumerate(depths, 1):
        cut, found = _cut(format, position, depth, tolerance)
        cuts.append(cut)
        doubts += found
    known = [cut for cut in cuts if cut is not None]
    doubts += _far_apart(format, cuts)
    bitting = bitting_of(format, known) if len(known) == len(cuts) else None
    return KeyReading(bitting, tuple(doubts))


def _refuse_unreadable(format: CoreFormat, depths: tuple[float, ...], refusals: Refusals) -> None:
    if format.plug_diameter_in is None:
        message = "The format does not say the plug's diameter, from which root depths follow; add it."
        refusals.add("not_measurable", message)
    if not len(refusals) and len(depths) != format.positions:
        message = f"{len(depths)} root depths are given for {format.positions} positions; give one for each."
        refusals.add("length", message)


def _cut(format: CoreFormat, position: int, depth: float, tolerance: float) -> tuple[int | None, list[Doubt]]:
    limit = tolerance + 1e-9
    wear = [(cut, (format.root_depth_in(cut) or 0.0) - depth) for cut in format.depth_values]
    not_shallower = [(cut, worn) for cut, worn in wear if worn >= -limit]
    if not not_shallower:
        first = format.depth_values[0]
        return None, [_doubt(format, position, "shallow", "is shallower than any depth", [first])]
    cut, worn = not_shallower[-1]
    equal = [near for near, gap in wear if abs(gap) <= limit]
    if len(equal) > 1:
        return cut, [_doubt(format, position, "between_sizes", "is as near to two depths", equal)]
    deeper = [next_cut for next_cut, gap in wear if gap < -limit][:1]
    step = ((deeper[0] - cut) if deeper else 1) * format.increment_in
    if not deeper and worn >= step:
        return None, [_doubt(format, position, "deep", "is deeper than any depth", [cut])]
    if worn > max(step / 2, limit):
        return cut, [_doubt(format, position, "worn", "is worn more than half a depth", [cut, *deeper])]
    return cut, []


def _doubt(format: CoreFormat, position: int, what: str, reason: str, cuts: list[int]) -> Doubt:
    symbols = tuple(format.symbol_of(cut) for cut in cuts)
    message = f"Position {position}: the cut {reason} (may be {' or '.join(symbols)}); measure it again."
    return Doubt(position, what, message, symbols)


def _far_apart(format: CoreFormat, cuts: list[int | None]) -> list[Doubt]:
    return [
        Doubt(
            position,
            "macs",
            f"Positions {position - 1} and {position}: adjacent cuts differ by more than {format.macs}; "
            "measure both again.",
            (),
        )
        for position, (last, this) in enumerate(pairwise(cuts), 2)
        if format.macs is not None
        and last is not None
        and this is not None
        and abs(this - last) > format.macs
    ]
