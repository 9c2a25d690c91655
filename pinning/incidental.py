"""Incidental keys: how many bittings turn some core of an estate although nobody planned them.

The bittings that turn a core are a box: per position the cuts that clear it. Those that turn any core are a
union of boxes. Where a table of all combinations is small, it is painted. Else the union is counted as a
decision diagram, position by position: a state is the set of what is left of the boxes that a key still
fits, where boxes with the same cuts left are one, and with each state go the ways to reach it, as far as the
rules ask about them. Boxes without any order to them make too many states; they are then painted into a
larger table, or refused. No bitting is counted twice, and no count is a guess (see `sampling` for those).

>>> from pinning.formats import load
>>> from pinning.stacks import pin
>>> incidental_total([pin(load("fixed-6"), ["333333", "555555"], None)], [])
64
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from random import Random

from pinning.abiding import BEGUN, So, go_on, is_finished, keeps
from pinning.audit import KeyIndex
from pinning.bittings import Bitting
from pinning.budget import Budget
from pinning.columns import Pinning
from pinning.errors import Refused
from pinning.figures import CoreFormat
from pinning.rules import Rules
from pinning.sampling import Estimate, estimate_union
from pinning.shear import operating_cuts, withdrawing_cuts
from pinning.wording import said

__all__ = [
    "LARGEST_UNION",
    "count_states",
    "count_union",
    "incidental_total",
    "legal",
    "unplanned_estimate",
    "unplanned_total",
    "withdrawing_total",
]

# A step is one box that a state still fits, followed by one of its cuts.
LARGEST_UNION = 2_000_000
# Combinations of cuts, and words to paint: what takes a second or so, and what takes half a minute at most.
QUICK_TABLE, QUICK_PAINT = 2**26, 2**27
LARGEST_TABLE, LARGEST_PAINT = 10**9, 10**9
REMEDY = said("Ask for fewer cores at a time, or for cores with fewer master pins; or estimate the number.")
PLAIN = Rules()

Box = tuple[tuple[int, ...], ...]
Tails = list[tuple[Sequence[int], int]]  # by number: what is left of a box, as its next cuts and the rest
State = frozenset[int]
Ways = dict[So, int]


def incidental_total(
    cores: Iterable[Pinning],
    keys: Iterable[Bitting],
    most_steps: int = LARGEST_UNION,
    rules: Rules = PLAIN,
) -> int:
    """Bittings that may be cut, turn a core and are none of `keys`.

    All cores are of one format, whose adjacent-cut limit holds together with the shop's `rules`. Raises
    `Refused` (code `too_large`) past `most_steps`, where no table does either.
    """
    found = list(cores)
    boxes = {operating_cuts(core) for core in found}
    return unplanned_total(found[0].format, boxes, keys, most_steps, rules) if found else 0


def withdrawing_total(
    cores: Iterable[Pinning],
    keys: Iterable[Bitting],
    most_steps: int = LARGEST_UNION,
    rules: Rules = PLAIN,
) -> int:
    """Bittings that may be cut, take a core out and are none of `keys`; otherwise like `incidental_total`.

    Keys are on ordinary blanks: a tip-operated core comes out for none of them.

    >>> from pinning.formats import load
    >>> from pinning.stacks import pin
    >>> withdrawing_total([pin(load("small-a4-6"), ["333333", "533333"], "210210")], [])
    1
    """
    found = list(cores)
    boxes = {withdrawing_cuts(core) for core in found}
    return unplanned_total(found[0].format, boxes, keys, most_steps, rules) if found else 0


def unplanned_total(
    format: CoreFormat,
    boxes: Iterable[Box],
    keys: Iterable[Bitting],
    most_steps: int = LARGEST_UNION,
    rules: Rules = PLAIN,
) -> int:
    """The same for boxes of cores: what `operating_cuts` or `withdrawing_cuts` gave."""
    rules = legal(format, rules)
    filled = [box for box in boxes if all(box)]
    known = {key.cuts: key for key in keys if keeps(rules, key.cuts)}
    return count_union(filled, rules, most_steps) - _known_in_any(filled, known)


def unplanned_estimate(
    format: CoreFormat, boxes: Iterable[Box], keys: Iterable[Bitting], rng: Random, rules: Rules = PLAIN
) -> Estimate:
    """About the same number, where counting is refused; the keys are taken off exactly."""
    rules = legal(format, rules)
    filled = [box for box in boxes if all(box)]
    known = _known_in_any(filled, {key.cuts: key for key in keys if keeps(rules, key.cuts)})
    found = estimate_union(filled, rules, rng)
    value, low, high = (max(number - known, 0) for number in (found.value, found.low, found.high))
    return replace(found, value=value, low=low, high=high)


def legal(format: CoreFormat, rules: Rules = PLAIN) -> Rules:
    """A shop's rules together with the format's adjacent-cut limit."""
    limits = [macs for macs in (format.macs, rules.macs) if macs is not None]
    return replace(rules, macs=min(limits, default=None))


def _known_in_any(boxes: Iterable[Box], known: dict[tuple[int, ...], Bitting]) -> int:
    index, matching = KeyIndex(known), 0
    for box in boxes:
        matching |= index.matching(box)
    return matching.bit_count()


def count_union(
    boxes: Collection[Sequence[Sequence[int]]], rules: Rules = PLAIN, most_steps: int = LARGEST_UNION
) -> int:
    """How many bittings that keep to `rules` lie in at least one of the boxes.

    All boxes have the same number of positions, one at least. Raises `Refused` (code `too_large`) where
    neither the steps suffice nor a table of all combinations of their cuts.

    >>> count_union([[(1, 2), (1, 2)], [(2, 3), (2, 3)]])
    7
    >>> count_union([[(1, 2), (1, 2)], [(2, 3), (2, 3)]], Rules(max_run=1))
    4
    """
    from pinning.painting import Painting

    distinct = list({tuple(map(tuple, box)) for box in boxes if all(box)})
    if not distinct:
        return 0
    painting = Painting(distinct, rules)
    if painting.size <= QUICK_TABLE and painting.words <= QUICK_PAINT:
        return painting.count()
    try:
        return count_states(distinct, rules, most_steps)
    except Refused:
        if painting.size > LARGEST_TABLE or painting.words > LARGEST_PAINT:
            raise
    return painting.count()


def count_states(boxes: Collection[Box], rules: Rules, most_steps: int = LARGEST_UNION) -> int:
    """The same as a decision diagram: quick however many combinations there are, where boxes are alike."""
    budget = Budget(most_steps, said("The count of incidental keys"), REMEDY)
    layers, first = _numbered(set(boxes))
    states: dict[State, Ways] = {first: {BEGUN: 1}} if first else {}
    for tails in layers:
        reached: dict[State, Ways] = {}
        for state, ways in states.items():
            for cut, left in _after(state, tails, budget).items():
                _lead(ways, rules, cut, reached.setdefault(frozenset(left), {}))
        states = reached
    return sum(number for ways in states.values() for so, number in ways.items() if is_finished(rules, so))


def _numbered(boxes: Collection[Box]) -> tuple[list[Tails], State]:
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


def _lead(ways: Ways, rules: Rules, cut: int, onward: Ways) -> None:
    """Add the ways that go on with this cut."""
    for so, number in ways.items():
        if (then := go_on(rules, so, cut)) is not None:
            onward[then] = onward.get(then, 0) + number
