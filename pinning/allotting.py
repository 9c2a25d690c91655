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
from itertools import combinations, islice, product
from math import prod

from pinning.bittings import Bitting
from pinning.budget import Budget
from pinning.errors import Refusal, Refused
from pinning.formats import CoreFormat
from pinning.hierarchy import Hierarchy, allocate
from pinning.rules import NO_RULES, Rules

__all__ = ["allot", "least_rooms"]

# A step is one key whose room is counted, or one deal looked at.
LARGEST_ALLOTMENT = 200_000
REMEDY = "Choose the positions of each level by hand, or ask for fewer keys or levels."

Groups = tuple[tuple[int, ...], ...]


def allot(
    format: CoreFormat,
    master: Bitting,
    needs: Sequence[int],
    array: Sequence[Sequence[int]] | None = None,
    rules: Rules | None = None,
) -> Groups:
    """The positions of each level, highest level first, each group's fastest position first.

    `needs[n]` is how many keys shall stand below each key of level n. Raises `Refused`: `needs` where the
    positions do not suffice, with what would fit, `too_large` where there are too many deals to look at, and
    as `allocate` does.
    """
    _refuse_needs(format, needs)
    whole = allocate(format, master, [range(1, format.positions + 1)], array, rules=rules)
    budget = Budget(LARGEST_ALLOTMENT, "The search for positions", REMEDY)
    for groups in _deals(whole.array, needs):
        budget.spend(1)
        tree = allocate(format, master, groups, whole.array, rules=rules)
        if _has_room(tree, needs, budget):
            return groups
    raise Refused([Refusal("needs", _what_fits(whole, needs, budget))])


def least_rooms(tree: Hierarchy, children: Sequence[int]) -> list[tuple[int, int, int]]:
    """By level from the first below the top: (least, most, all) room below the keys of the level above.

    Looks below every key of the tree that has `children[n]` keys below each key of level n. Where no limit
    or rule binds, room is the same everywhere and one key of each level tells it.
    """
    everywhere = [1, *islice(_running(children), len(children) - 1)]
    found = []
    for level in range(len(children)):
        if _is_even(tree):
            room = tree.children_of(tree.master, level).usable_total
            found.append((room, room, room * everywhere[level]))
            continue
        rooms = [
            tree.children_of(key, level).usable_total
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
        message = (
            f"Say for 1 to {format.positions} levels below the top how many keys stand below each key above; "
            "one at least."
        )
        raise Refused([Refusal("needs", message)])


def _deals(array: Sequence[Sequence[int]], needs: Sequence[int]) -> Iterator[Groups]:
    """Every deal whose columns could give the keys asked for if no limit took any, fewest positions first."""
    for used in range(len(needs), len(array) + 1):
        for sizes in _sizes(used, len(needs)):
            for groups in _dealt(tuple(range(1, len(array) + 1)), sizes):
                if all(
                    prod(len(array[position - 1]) for position in group) >= need
                    for group, need in zip(groups, needs, strict=True)
                ):
                    yield groups


def _sizes(total: int, levels: int) -> Iterator[tuple[int, ...]]:
    for sizes in product(range(1, total + 1), repeat=levels):
        if sum(sizes) == total:
            yield sizes


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
    for path, key in tree.walk(needs[:-1]):
        budget.spend(1)
        if tree.children_of(key, len(path)).usable_total < needs[len(path)]:
            return False
    return True


def _what_fits(whole: Hierarchy, needs: Sequence[int], budget: Budget) -> str:
    """The largest last level that fits below the levels above as they were asked for."""
    best = 0
    for groups in _deals(whole.array, [*needs[:-1], 1]):
        if prod(len(whole.array[position - 1]) for position in groups[-1]) <= best:
            continue
        budget.spend(1)
        tree = allocate(whole.format, whole.master, groups, whole.array, rules=whole.rules)
        if _has_room(tree, [*needs[:-1], 1], budget):
            best = max(best, least_rooms(tree, needs)[-1][0])
    asked = " x ".join(f"{need:,}" for need in needs)
    too_many = f"{asked} keys do not fit into {whole.format.positions} positions"
    if best == 0:
        return f"{too_many}; ask for fewer levels or keys."
    return f"{too_many}: below each key of the last level but one {best:,} would fit, not {needs[-1]:,}."
