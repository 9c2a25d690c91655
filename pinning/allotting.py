"""Positions given to levels by need: each level gets so many that every key above has room below it.

As few positions as possible are used; what is left over keeps the master's cut in every key. Among deals of
equally few positions the first that fits is taken, with the level of the most keys in the last positions.
Room is counted exactly, below every key that will be made: under an adjacent-cut limit or further rules it
is not the same below all of them.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> a2 = load("small-a2-7")
>>> allot(a2, parse_bitting(a2, "1432545"), [4, 16, 64])
((1,), (3, 2), (6, 5, 4))
"""

from collections.abc import Iterator, Sequence
from functools import reduce
from itertools import combinations, islice, pairwise
from math import prod

from pinning.bittings import Bitting
from pinning.budget import Budget
from pinning.errors import Refusal, Refused
from pinning.formats import CoreFormat
from pinning.hierarchy import Hierarchy, allocate
from pinning.rules import NO_RULES, Rules
from pinning.wording import Fact, Said, said

__all__ = ["Groups", "allot", "least_rooms"]

# A step is one deal looked at, or one key whose room is counted under an adjacent-cut limit; under further
# rules such a count takes as long as so many of them.
LARGEST_ALLOTMENT = 100_000
STEPS_BY_RULES = 50
REMEDY = said("Choose the positions of each level by hand, or ask for fewer keys or levels.")

Groups = tuple[tuple[int, ...], ...]


def allot(
    format: CoreFormat,
    master: Bitting,
    needs: Sequence[int],
    array: Sequence[Sequence[int]] | None = None,
    rules: Rules | None = None,
    *,
    explain: bool = True,
) -> Groups:
    """The positions of each level, highest level first, each group's fastest position first.

    `needs[n]` is how many keys shall stand below each key of level n. Raises `Refused`: `needs` where the
    positions do not suffice, with what would fit if it shall `explain`, `too_large` where there are too many
    deals to look at, and as `allocate` does.
    """
    _refuse_needs(format, needs)
    whole = allocate(format, master, [range(1, format.positions + 1)], array, rules=rules)
    budget = Budget(LARGEST_ALLOTMENT, said("The search for positions"), REMEDY)
    for groups in _deals(whole.array, needs, budget):
        tree = allocate(format, master, groups, whole.array, rules=rules)
        if _has_room(tree, needs, budget):
            return groups
    best = _most_that_fits(whole, needs) if explain else None
    raise Refused([Refusal("needs", _explained(whole, needs, best))])


def least_rooms(tree: Hierarchy, children: Sequence[int]) -> list[tuple[int, int, int]]:
    """By level from the first below the top: (least, most, all) room below the keys of the level above.

    Looks below every key of the tree that has `children[n]` keys below each key of level n. Where no limit
    or rule binds, room is the same everywhere and one key of each level tells it. Raises `Refused` (code
    `too_large`) where that are too many keys to look below.
    """
    budget = Budget(LARGEST_ALLOTMENT, said("The count of room on every level"), REMEDY)
    everywhere = [1, *islice(_running(children), len(children) - 1)]
    found = []
    for level in range(len(children)):
        if _is_even(tree):
            room = tree.children_of(tree.master, level).usable_total
            found.append((room, room, room * everywhere[level]))
            continue
        rooms = [
            _room_below(tree, key, level, budget)
            for path, key in tree.walk(children[:level])
            if len(path) == level
        ]
        found.append((min(rooms, default=0), max(rooms, default=0), sum(rooms)))
    return found


def _running(children: Sequence[int]) -> Iterator[int]:
    for end in range(1, len(children) + 1):
        yield prod(children[:end])


def _is_even(tree: Hierarchy) -> bool:
    return tree.format.macs is None and tree.rules == NO_RULES


def _refuse_needs(format: CoreFormat, needs: Sequence[int]) -> None:
    if not 1 <= len(needs) <= format.positions or any(need < 1 for need in needs):
        message = said(
            "Say for 1 to {positions} levels below the top how many keys stand below each key above; "
            "one at least.",
            positions=format.positions,
        )
        raise Refused([Refusal("needs", message)])


def _deals(array: Sequence[Sequence[int]], needs: Sequence[int], budget: Budget) -> Iterator[Groups]:
    """Every deal whose columns could give the keys asked for if no limit took any, fewest positions first."""
    for used in range(len(needs), len(array) + 1):
        for sizes in _sizes(used, len(needs)):
            for groups in _dealt(tuple(range(1, len(array) + 1)), sizes):
                budget.spend(1)
                if all(_columns(array, group) >= need for group, need in zip(groups, needs, strict=True)):
                    yield groups


def _columns(array: Sequence[Sequence[int]], group: Sequence[int]) -> int:
    """The combinations of a group's columns, legal or not."""
    return prod(len(array[position - 1]) for position in group)


def _sizes(total: int, levels: int) -> Iterator[tuple[int, ...]]:
    """Every way to write a total as so many numbers from 1 up."""
    for ends in combinations(range(1, total), levels - 1):
        yield tuple(after - before for before, after in pairwise((0, *ends, total)))


def _dealt(positions: tuple[int, ...], sizes: tuple[int, ...]) -> Iterator[Groups]:
    """The positions in groups of these sizes, those further left to the levels further up first."""
    if not sizes:
        yield ()
        return
    for group in combinations(positions, sizes[0]):
        rest = tuple(position for position in positions if position not in group)
        for others in _dealt(rest, sizes[1:]):
            yield (group[::-1], *others)


def _has_room(tree: Hierarchy, needs: Sequence[int], budget: Budget) -> bool:
    if _is_even(tree):
        return True  # the product of the columns is the room
    return all(
        _room_below(tree, key, len(path), budget) >= needs[len(path)] for path, key in tree.walk(needs[:-1])
    )


def _room_below(tree: Hierarchy, key: Bitting, level: int, budget: Budget) -> int:
    budget.spend(1 if tree.rules == NO_RULES else STEPS_BY_RULES)
    return tree.children_of(key, level).usable_total


def _most_that_fits(whole: Hierarchy, needs: Sequence[int]) -> int | None:
    """The largest last level below the levels above as they were asked for; None if it takes too long."""
    best, above = 0, [*needs[:-1], 1]
    budget = Budget(LARGEST_ALLOTMENT, said("The search for what fits"), REMEDY)
    try:
        for groups in _deals(whole.array, above, budget):
            tree = allocate(whole.format, whole.master, groups, whole.array, rules=whole.rules)
            if _columns(whole.array, groups[-1]) > best and _has_room(tree, above, budget):
                best = max(best, _least_of_last(tree, needs, budget))
    except Refused:
        return None
    return best


def _least_of_last(tree: Hierarchy, needs: Sequence[int], budget: Budget) -> int:
    level = len(needs) - 1
    if _is_even(tree):
        return tree.children_of(tree.master, level).usable_total
    keys = (key for path, key in tree.walk(needs[:-1]) if len(path) == level)
    return min(_room_below(tree, key, level, budget) for key in keys)


def _explained(whole: Hierarchy, needs: Sequence[int], best: int | None) -> Said:
    each: list[Fact] = [*needs]
    asked = reduce(lambda some, other: said("{some} x {other}", some=some, other=other), each)
    positions = whole.format.positions
    if not best:
        return said(
            "{asked} keys do not fit into {positions} positions; ask for fewer levels or keys.",
            asked=asked,
            positions=positions,
        )
    return said(
        "{asked} keys do not fit into {positions} positions: below each key of the last level but one "
        "{best} would fit, not {need}.",
        asked=asked,
        positions=positions,
        best=best,
        need=needs[-1],
    )
