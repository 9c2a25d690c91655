"""Proposing a control bitting for a system of cores.

One control key withdraws every core of a system, so it must be buildable in each of them, whatever
operating keys that core takes. Under the sleeve a control cut c needs a control pin of c + K - deepest and
a top pin of T - K - c. The deepest operating cut of some core may be any cut that the system uses there, so
c is taken only if the pin for each of them is in the kit. Outside the sleeve the control key must carry a
cut that every core shares: the master's. Last, the control key must not turn a plug: in one position at
least its cut must be none of the system's operating cuts, and then no core of the system takes it, planned
or not. In a system of step 2 the other parity gives such cuts for nothing; with step 1 all depths may be in
use, and `make_room` holds one back. Where the sleeve is thinner than the range of depths, two operating
cuts as far apart as it is thick would let an operating key clear the control line; the position that tells
the keys apart must be free of such pairs, and `make_room` frees one.

>>> from random import Random
>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> a4 = load("small-a4-6")
>>> master = parse_bitting(a4, "143254")
>>> array = make_room(a4, master, Random(1))
>>> control = propose_control(a4, master, Random(1), array)
>>> any(cut not in (own, *column) for cut, own, column in zip(control.cuts, master.cuts, array))
True
"""

from collections.abc import Collection, Sequence
from random import Random

from pinning.bittings import Bitting, bitting_of
from pinning.errors import Refusal, Refusals, Refused
from pinning.formats import CoreFormat
from pinning.masters import random_cuts
from pinning.progression import Array, key_bitting_array
from pinning.wording import said

__all__ = ["make_room", "propose_control"]

Columns = list[tuple[int, ...]]


def propose_control(
    format: CoreFormat, master: Bitting, rng: Random, array: Sequence[Sequence[int]] | None = None
) -> Bitting:
    """A control bitting for all cores under `master` with change keys from `array` (the full one if None).

    Raises `Refused`: `control_not_used` (no sleeve), `control_unbuildable` (a position without a possible
    cut), `control_not_distinct` (every possible control key would also turn a plug of the system).
    """
    operating = _operating(format, master, array)
    columns = _buildable(format, master, operating)
    _refuse_impossible(format, columns)
    for position in _shuffled(rng, range(format.positions)):
        if _has_pair(format, operating[position]):
            continue
        apart = tuple(cut for cut in columns[position] if cut not in operating[position])
        narrowed = [*columns[:position], apart, *columns[position + 1 :]]
        if found := random_cuts(format, narrowed, rng):
            return bitting_of(format, found)
    message = said(
        "With every control key that can be built, some key would both turn and withdraw a core of this "
        "system; hold back one depth of the array in one position, or more if the sleeve is thin."
    )
    raise Refused([Refusal("control_not_distinct", message)])


def make_room(
    format: CoreFormat, master: Bitting, rng: Random, array: Sequence[Sequence[int]] | None = None
) -> Array:
    """The array with as little held back as a control key needs: nothing, or depths of one position.

    Raises `Refused` as `propose_control` does where that is not enough.
    """
    full = key_bitting_array(format, master) if array is None else tuple(map(tuple, array))
    operating = _operating(format, master, full)
    columns = _buildable(format, master, operating)
    _refuse_impossible(format, columns)
    if any(_tells_apart(format, *pair) for pair in zip(columns, operating, strict=True)):
        return full
    for place in _shuffled(rng, format.sleeve):
        if kept := _made_apart(format, master.cuts[place - 1], full[place - 1], rng):
            return (*full[: place - 1], kept, *full[place:])
    return full


def _tells_apart(format: CoreFormat, buildable: Collection[int], operating: Collection[int]) -> bool:
    return bool(set(buildable) - set(operating)) and not _has_pair(format, operating)


def _has_pair(format: CoreFormat, operating: Collection[int]) -> bool:
    """Whether two of the cuts lie as far apart as the two lines."""
    return any(cut + format.addition in operating for cut in operating)


def _made_apart(format: CoreFormat, own: int, column: Sequence[int], rng: Random) -> tuple[int, ...]:
    """What can stay of a column so that no two cuts make a pair and a control cut is none of them."""
    kept: list[int] = []
    for cut in column:
        if all(abs(cut - other) != format.addition for other in (own, *kept)):
            kept.append(cut)
    buildable = [cut for cut in format.depth_values if _fits(format, cut, (own, *kept))]
    if set(buildable) - {own, *kept}:
        return tuple(kept)
    spare = [cut for cut in kept if cut in buildable]
    if len(kept) < 2 or not spare:
        return ()
    held = rng.choice(spare)
    return tuple(cut for cut in kept if cut != held)


def _operating(format: CoreFormat, master: Bitting, array: Sequence[Sequence[int]] | None) -> Columns:
    columns = key_bitting_array(format, master) if array is None else array
    return [(own, *column) for own, column in zip(master.cuts, columns, strict=True)]


def _buildable(format: CoreFormat, master: Bitting, operating: Columns) -> Columns:
    return [
        tuple(cut for cut in format.depth_values if _fits(format, cut, operating[position - 1]))
        if position in format.sleeve
        else (master.cuts[position - 1],)
        for position in range(1, format.positions + 1)
    ]


def _fits(format: CoreFormat, cut: int, operating: Collection[int]) -> bool:
    top = (format.total.sleeve or 0) - format.addition - cut
    controls = {cut + format.addition - deepest for deepest in operating}
    return top in format.pins.top and controls <= set(format.pins.control)


def _refuse_impossible(format: CoreFormat, columns: Columns) -> None:
    refusals = Refusals()
    if not format.sleeve:
        refusals.add(
            "control_not_used", said("This format has no control sleeve; it needs no control bitting.")
        )
    for position, column in enumerate(columns, 1):
        if not column:
            message = said(
                "Position {position}: no control cut has its pins in the kit; use fewer operating depths.",
                position=position,
            )
            refusals.add("control_unbuildable", message, position)
    refusals.stop()


def _shuffled(rng: Random, places: Sequence[int]) -> list[int]:
    return rng.sample(list(places), len(places))
