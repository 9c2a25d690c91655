"""A hierarchy: the positions dealt out to levels.

A key fixes the positions of its own level and of those above it, and carries the top master's cut in the
others. On each level the positions are progressed in full, or so many of them hold the master's cut by the
rotating constant.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> a2 = load("small-a2-6")
>>> tree = allocate(a2, parse_bitting(a2, "143254"), [[1], [2, 3], [4, 5, 6]])
>>> [tree.bitting(path).text for path in [(), (0,), (0, 0), (0, 0, 0)]]
['143254', '343254', '301254', '301010']
>>> tree.children_total((0, 0))
64
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from pinning.bittings import Bitting
from pinning.errors import Refusals
from pinning.formats import CoreFormat
from pinning.progression import (
    Array,
    Progression,
    checked_array,
    refuse_master,
    refuse_positions,
)
from pinning.rotating import Rotation
from pinning.rules import NO_RULES, Rules
from pinning.wording import said

__all__ = ["Hierarchy", "allocate"]

Path = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Hierarchy:
    """A master's tree: `groups[n]` are the positions that keys of level n + 1 fix, in their sequence, and
    `constants[n]` how many of them hold the master's cut in turn.

    A path of indexes names a key: () is the master, (2,) the third key below it, (2, 0) the first below
    that. Indexes count only bittings within the adjacent-cut limit and the rules, so a path never leads to a
    key that cannot be cut.
    """

    format: CoreFormat
    master: Bitting
    array: Array
    groups: tuple[tuple[int, ...], ...]
    constants: tuple[int, ...]
    rules: Rules = NO_RULES

    def children(self, path: Sequence[int] = ()) -> Progression | Rotation:
        """The keys right below a key; raises IndexError below the last level."""
        return self.children_of(self.bitting(path), len(path))

    def children_of(self, key: Bitting, level: int) -> Progression | Rotation:
        """The same for a key of that level by its bitting."""
        if level >= len(self.groups):
            raise IndexError(f"a path of {level} indexes is a change key: there is no level below it")
        base = Progression(self.format, key, self.array, self.groups[level], self.rules)
        return Rotation(base, self.constants[level]) if self.constants[level] else base

    def children_total(self, path: Sequence[int] = ()) -> int:
        """How many keys can be cut right below a key."""
        return self.children(path).usable_total

    def bitting(self, path: Sequence[int]) -> Bitting:
        """The key at the end of a path; raises IndexError if there is none."""
        held = self.master
        for level, index in enumerate(path):
            if level >= len(self.groups):
                raise IndexError(f"the path has {len(path)} indexes; there are {len(self.groups)} levels")
            held = self.children_of(held, level).nth_usable(index)
        return held

    def walk(self, children: Sequence[int]) -> Iterator[tuple[Path, Bitting]]:
        """The tree from the top down, each key before those below it, `children[n]` keys below each key of
        level n; fewer where there is no room for so many.
        """
        yield from self._below((), self.master, children)

    def _below(self, path: Path, key: Bitting, children: Sequence[int]) -> Iterator[tuple[Path, Bitting]]:
        yield path, key
        if len(path) < len(children):
            keys = self.children_of(key, len(path)).usable()
            for index, below in enumerate(islice(keys, children[len(path)])):
                yield from self._below((*path, index), below, children)


def allocate(
    format: CoreFormat,
    master: Bitting,
    groups: Sequence[Sequence[int]],
    array: Sequence[Sequence[int]] | None = None,
    *,
    constants: Sequence[int] | None = None,
    rules: Rules | None = None,
) -> Hierarchy:
    """A hierarchy from position groups, highest level first, e.g. [[1, 2], [3, 4], [5, 6, 7]].

    Positions left out keep the master's cut in every key. `constants` says per level how many positions are
    held in turn (0 if left out). Raises `Refused` as `progress` does, `groups` for positions named twice,
    outside the core, or for a level without positions, and `constants` where all would be held.
    """
    refusals = Refusals()
    refuse_master(format, master, refusals)
    checked = checked_array(format, master, array, refusals)
    refuse_positions(
        "groups", [position for group in groups for position in group], format.positions, refusals
    )
    held = tuple(constants) if constants is not None else (0,) * len(groups)
    _refuse_levels(groups, held, refusals)
    refusals.stop()
    return Hierarchy(format, master, checked, tuple(map(tuple, groups)), held, rules or NO_RULES)


def _refuse_levels(groups: Sequence[Sequence[int]], held: Sequence[int], refusals: Refusals) -> None:
    for level, group in enumerate(groups, 1):
        if not group:
            message = said("Level {level} has no positions; give it one at least.", level=level)
            refusals.add("groups", message)
    if len(held) != len(groups):
        message = said(
            "{held} numbers of constants are given for {levels} levels.", held=len(held), levels=len(groups)
        )
        refusals.add("constants", message)
    for level, (group, number) in enumerate(zip(groups, held, strict=False), 1):
        if group and not 0 <= number < len(group):
            message = said(
                "Level {level} has {positions} positions; {held} of them cannot be held.",
                level=level,
                positions=len(group),
                held=number,
            )
            refusals.add("constants", message)
