"""Proposing a control bitting for a system of cores.

One control key withdraws every core of a system, so it must be buildable in each of them, whatever
operating keys that core takes. Under the sleeve a control cut c needs a control pin of c + K - deepest and
a top pin of T - K - c. The deepest operating cut of some core may be any cut that the system uses there, so
c is taken only if the pin for each of them is in the kit. Outside the sleeve the control key must carry a
cut that every core shares: the master's. Last, the control key must not turn a plug: in one position at
least its cut must be none of the system's operating cuts, and then no core of the system takes it, planned
or not. In a system of step 2 the other parity gives such cuts for nothing; with step 1 all depths may be in
use, and `make_room` holds one back.

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
from pinning.progression import Array, key_bitting_array

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
        apart = tuple(cut for cut in columns[position] if cut not in operating[position])
        narrowed = [*columns[:position], apart, *columns[position + 1 :]]
        if found := _walk(format, narrowed, rng):
            return bitting_of(format, found)
    message = (
        "Every control key that can be built would also turn a core of this system; "
        "hold back one depth of the array in one position."
    )
    raise Refused([Refusal("control_not_distinct", message)])


def make_room(
    format: CoreFormat, master: Bitting, rng: Random, array: Sequence[Sequence[int]] | None = None
) -> Array:
    """The array with as little held back as a control key needs: nothing, or one depth of one position.

    Raises `Refused` as `propose_control` does where that is not enough.
    """
    full = key_bitting_array(format, master) if array is None else tuple(map(tuple, array))
    operating = _operating(format, master, full)
    columns = _buildable(format, master, operating)
    _refuse_impossible(format, columns)
    if any(set(cuts) - set(used) for cuts, used in zip(columns, operating, strict=True)):
        return full
    for place in _shuffled(rng, format.sleeve):
        spare = [cut for cut in full[place - 1] if cut in columns[place - 1]]
        if len(full[place - 1]) > 1 and spare:
            held = rng.choice(spare)
            kept = tuple(cut for cut in full[place - 1] if cut != held)
            return (*full[: place - 1], kept, *full[place:])
    return full


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
        refusals.add("control_not_used", "This format has no control sleeve; it needs no control bitting.")
    for position, column in enumerate(columns, 1):
        if not column:
            message = (
                f"Position {position}: no control cut has its pins in the kit; use fewer operating depths."
            )
            refusals.add("control_unbuildable", message, position)
    refusals.stop()


def _shuffled(rng: Random, places: Sequence[int]) -> list[int]:
    return rng.sample(list(places), len(places))


def _walk(format: CoreFormat, columns: Columns, rng: Random) -> tuple[int, ...] | None:
    """One random bitting from `columns` within the adjacent-cut limit; None if there is none.

    From the last position backwards only cuts that can be continued are kept, so the walk forward never
    fails.
    """
    open_ends: Columns = [columns[-1]]
    for column in reversed(columns[:-1]):
        open_ends.insert(0, tuple(cut for cut in column if _next_to(format, cut, open_ends[0])))
    walked: list[int] = []
    for column in open_ends:
        choices = [cut for cut in column if not walked or _next_to(format, cut, walked[-1:])]
        if not choices:
            return None
        walked.append(rng.choice(choices))
    return tuple(walked)


def _next_to(format: CoreFormat, cut: int, others: Collection[int]) -> bool:
    return any(format.macs is None or abs(cut - other) <= format.macs for other in others)
