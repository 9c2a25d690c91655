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
from functools import reduce
from itertools import pairwise

from pinning.bittings import Bitting, bitting_of
from pinning.doubts import Doubt
from pinning.errors import Refusals
from pinning.formats import CoreFormat
from pinning.measuring import DEFAULT_TOLERANCE_IN, parse_lengths, parse_tolerance
from pinning.wording import said

__all__ = ["KeyReading", "read_key"]

FOUND = {
    "shallow": said("the cut is shallower than any depth"),
    "between_sizes": said("the cut is as near to two depths"),
    "deep": said("the cut is deeper than any depth"),
    "worn": said("the cut is worn more than half a depth"),
}


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
        message = said("The format does not say the plug's diameter, from which root depths follow; add it.")
        refusals.add("not_measurable", message)
    if not len(refusals) and len(depths) != format.positions:
        message = said(
            "{depths} root depths are given for {positions} positions; give one for each.",
            depths=len(depths),
            positions=format.positions,
        )
        refusals.add("length", message)


def _cut(format: CoreFormat, position: int, depth: float, tolerance: float) -> tuple[int | None, list[Doubt]]:
    limit = tolerance + 1e-9
    wear = [(cut, (format.root_depth_in(cut) or 0.0) - depth) for cut in format.depth_values]
    not_shallower = [(cut, worn) for cut, worn in wear if worn >= -limit]
    if not not_shallower:
        first = format.depth_values[0]
        return None, [_doubt(format, position, "shallow", [first])]
    cut, worn = not_shallower[-1]
    equal = [near for near, gap in wear if abs(gap) <= limit]
    if len(equal) > 1:
        return cut, [_doubt(format, position, "between_sizes", equal)]
    deeper = [next_cut for next_cut, gap in wear if gap < -limit][:1]
    step = ((deeper[0] - cut) if deeper else 1) * format.increment_in
    if not deeper and worn >= step:
        return None, [_doubt(format, position, "deep", [cut])]
    if worn > max(step / 2, limit):
        return cut, [_doubt(format, position, "worn", [cut, *deeper])]
    return cut, []


def _doubt(format: CoreFormat, position: int, what: str, cuts: list[int]) -> Doubt:
    symbols = tuple(format.symbol_of(cut) for cut in cuts)
    message = said(
        "Position {position}: {found} (may be {symbols}); measure it again.",
        position=position,
        found=FOUND[what],
        symbols=reduce(lambda some, other: said("{some} or {other}", some=some, other=other), symbols),
    )
    return Doubt(position, what, message, symbols)


def _far_apart(format: CoreFormat, cuts: list[int | None]) -> list[Doubt]:
    return [
        Doubt(
            position,
            "macs",
            said(
                "Positions {before} and {position}: adjacent cuts differ by more than {limit}; "
                "measure both again.",
                before=position - 1,
                position=position,
                limit=format.macs,
            ),
            (),
        )
        for position, (last, this) in enumerate(pairwise(cuts), 2)
        if format.macs is not None
        and last is not None
        and this is not None
        and abs(this - last) > format.macs
    ]
