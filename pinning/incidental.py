"""Incidental keys: how many bittings turn some core of an estate although nobody planned them.

The bittings that turn a core are a box: per position the cuts that clear it. Those that turn any core are a
union of boxes. It is counted as a decision diagram, position by position: a state is the set of what is
left of the boxes that a key still fits, where boxes with the same cuts left are one, and with each state go
the ways to reach it by last cut. Boxes without any order to them make too many states; where all bittings
fit into one table of bits, they are then painted into it. Either way no bitting is counted twice.

>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> incidental_total([pin(load("fixed-6"), ["333333", "555555"], None)], [])
64
"""

from collections.abc import Collection, Iterable, Sequence

from pinning.audit import KeyIndex
from pinning.bittings import Bitting
from pinning.budget import Budget
from pinning.columns import Pinning
from pinning.errors import Refused
from pinning.painting import count_painted
from pinning.progression import is_within_limit
from pinning.shear import operating_cuts

__all__ = ["LARGEST_UNION", "count_union", "incidental_total"]

# A step is one box that a state still fits, followed by one of its cuts.
LARGEST_UNION = 2_000_000
LARGEST_TABLE = 2**24  # bittings, legal or not
REMEDY = "Ask for fewer cores at a time, or for cores with fewer master pins."

Box = Sequence[Sequence[int]]
Tails = list[tuple[Sequence[int], int]]  # by number: what is left of a box, as its next cuts and the rest
State = frozenset[int]
Ways = dict[int, int]  # by last cut


def incidental_total(
    cores: Iterable[Pinning], keys: Iterable[Bitting], most_steps: int = LARGEST_UNION
) -> int:
    """Bittings within the adjacent-cut limit that turn a core and are none of `keys`.

    All cores are of one format. Raises `Refused` (code `too_large`) past `most_steps`.
    """
    found = list(cores)
    if not found:
        return 0
    format, boxes = found[0].format, {operating_cuts(core) for core in found}
    known = {key.cuts: key for key in keys if is_within_limit(format, key.cuts)}
    return count_union(boxes, format.macs, most_steps) - _known_in_any(boxes, known)


def _known_in_any(boxes: Iterable[Box], known: dict[tuple[int, ...], Bitting]) -> int:
    index, matching = KeyIndex(known), 0
    for box in boxes:
        matching |= index.matching(box)
    return matching.bit_count()


def count_union(boxes: Collection[Box], macs: int | None, most_steps: int = LARGEST_UNION) -> int:
    """How many bittings with adjacent cuts at most `macs` apart lie in at least one of the boxes.

    All boxes have the same number of positions, one at least. Raises `Refused` (code `too_large`) where
    neither the steps suffice nor a table of all combinations of their cuts.

    >>> count_union([[(1, 2), (1, 2)], [(2, 3), (2, 3)]], None)
    7
    """
    distinct = {tuple(map(tuple, box)) for box in boxes if all(box)}
    values = sorted({cut for box in distinct for column in box for cut in column})
    try:
        return _by_states(distinct, macs, Budget(most_steps, "The count of incidental keys", REMEDY))
    except Refused:
        if len(values) ** len(next(iter(distinct))) > LARGEST_TABLE:
            raise
    return count_painted(distinct, macs, values)


def _by_states(boxes: set[tuple[tuple[int, ...], ...]], macs: int | None, budget: Budget) -> int:
    layers, first = _numbered(boxes)
    states: dict[State, Ways] = {first: {}} if first else {}
    for tails in layers:
        reached: dict[State, Ways] = {}
        for state, ways in states.items():
            for cut, left in _after(state, tails, budget).items():
                if number := _ways_on(ways, cut, macs):
                    onward = reached.setdefault(frozenset(left), {})
                    onward[cut] = onward.get(cut, 0) + number
        states = reached
    return sum(number for ways in states.values() for number in ways.values())


def _numbered(boxes: Collection[tuple[tuple[int, ...], ...]]) -> tuple[list[Tails], State]:
    """Per position the different ends of boxes from there on, and the numbers of the whole boxes."""
    layers: list[Tails] = []
    numbers = {box: number for number, box in enumerate(sorted(boxes))}
    first = frozenset(numbers.values())
    while any(numbers):
        ends = {end[1:] for end in numbers}
        rests = {end: number for number, end in enumerate(sorted(ends))}
        layers.append([(end[0], rests[end[1:]]) for end in numbers])
        numbers = rests
    return layers, first


def _after(state: State, tails: Tails, budget: Budget) -> dict[int, set[int]]:
    """By next cut, what is left of the boxes that it fits."""
    left: dict[int, set[int]] = {}
    for number in state:
        cuts, rest = tails[number]
        budget.spend(len(cuts))
        for cut in cuts:
            left.setdefault(cut, set()).add(rest)
    return left


def _ways_on(ways: Ways, cut: int, macs: int | None) -> int:
    """The ways that go on with this cut; before the first position there is one, and no last cut."""
    if not ways:
        return 1
    return sum(number for last, number in ways.items() if macs is None or abs(cut - last) <= macs)
