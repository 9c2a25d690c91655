"""Total position progression: change keys derived from a top master bitting.

A change key differs from the master in every position, and by a multiple of the format's step, so that two
cuts of a position are never too close for a master pin. The cuts left over per position are the key bitting
array; the sequence of progression says in which order the positions run through it, the first one named
changing fastest. In a hierarchy the positions are dealt out to levels: a key fixes its own level's
positions and those above it, and carries the master's cut in the others.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> a2 = load("small-a2-6")
>>> master = parse_bitting(a2, "143254")
>>> progression = progress(a2, master)
>>> progression.total, progression[0].text, progression[1].text
(4096, '301010', '301012')
>>> tree = allocate(a2, master, [[1], [2, 3], [4, 5, 6]])
>>> [tree.bitting(path).text for path in [(), (0,), (0, 0), (0, 0, 0)]]
['143254', '343254', '301254', '301010']
>>> tree.children_total((0, 0))
64
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise
from math import prod

from pinning.bittings import Bitting, bitting_of
from pinning.counting import count_bittings
from pinning.errors import Refusals
from pinning.formats import CoreFormat

__all__ = ["Hierarchy", "Progression", "allocate", "key_bitting_array", "progress"]

Array = tuple[tuple[int, ...], ...]


def key_bitting_array(format: CoreFormat, master: Bitting) -> Array:
    """Per position, what a change key may carry: the depths of the master's series but the master's own."""
    return tuple(
        tuple(cut for cut in format.depth_values if cut != own and (cut - own) % format.step == 0)
        for own in master.cuts
    )


@dataclass(frozen=True, slots=True)
class Progression:
    """The bittings that take the array's cuts in `sequence` and the `held` cuts elsewhere, by index.

    Indexes count every combination; `usable` leaves out those that break the adjacent-cut limit.
    """

    format: CoreFormat
    held: Bitting
    array: Array
    sequence: tuple[int, ...]

    @property
    def total(self) -> int:
        """All combinations, legal or not."""
        return prod(len(self.array[position - 1]) for position in self.sequence)

    @property
    def usable_total(self) -> int:
        """The combinations within the adjacent-cut limit, counted without listing them."""
        chosen = [
            self.array[place] if place + 1 in self.sequence else (cut,)
            for place, cut in enumerate(self.held.cuts)
        ]
        return count_bittings(chosen, self.format.macs)

    def __len__(self) -> int:
        return self.total

    def __getitem__(self, index: int) -> Bitting:
        """The bitting of that index, from 0; raises IndexError outside the progression."""
        if not 0 <= index < self.total:
            raise IndexError(f"index {index} is outside a progression of {self.total}")
        return _of_cuts(self.format, self._cuts(index))

    def between(self, first: int, end: int) -> Iterator[Bitting]:
        """The bittings of the indexes from `first` to before `end`, as far as there are any."""
        for index in range(max(first, 0), min(end, self.total)):
            yield _of_cuts(self.format, self._cuts(index))

    def _cuts(self, index: int) -> tuple[int, ...]:
        cuts = list(self.held.cuts)
        for position in self.sequence:
            column = self.array[position - 1]
            index, turn = divmod(index, len(column))
            cuts[position - 1] = column[turn]
        return tuple(cuts)

    def usable(self) -> Iterator[Bitting]:
        """The bittings that may be cut, in the order of progression."""
        for index in range(self.total):
            cuts = self._cuts(index)
            if is_within_limit(self.format, cuts):
                yield _of_cuts(self.format, cuts)

    def nth_usable(self, index: int) -> Bitting:
        """The usable bitting of that rank, from 0; raises IndexError. Immediate where there is no limit."""
        if self.format.macs is None:
            return self[index]
        found = next(islice(self.usable(), index, None), None) if index >= 0 else None
        if found is None:
            raise IndexError(f"index {index} is outside {self.usable_total} usable bittings")
        return found


def is_within_limit(format: CoreFormat, cuts: Sequence[int]) -> bool:
    macs = format.macs
    return macs is None or all(abs(b - a) <= macs for a, b in pairwise(cuts))


def _of_cuts(format: CoreFormat, cuts: tuple[int, ...]) -> Bitting:
    return Bitting(cuts, "".join(map(format.symbol_of, cuts)))


def progress(
    format: CoreFormat,
    master: Bitting,
    array: Sequence[Sequence[int]] | None = None,
    sequence: Sequence[int] | None = None,
) -> Progression:
    """The progression under a master. Without `array`, the full one; without `sequence`, the last position
    first.

    Raises `Refused` (codes `length`, `depth`, `macs`, `array`, `sequence`).
    """
    order = tuple(range(format.positions, 0, -1)) if sequence is None else tuple(sequence)
    refusals = Refusals()
    _refuse_master(format, master, refusals)
    checked = _checked_array(format, master, array, refusals)
    _refuse_positions("sequence", order, format.positions, refusals)
    refusals.stop()
    return Progression(format, master, checked, order)


def _refuse_master(format: CoreFormat, master: Bitting, refusals: Refusals) -> None:
    if len(master.cuts) == format.positions and not is_within_limit(format, master.cuts):
        refusals.add("macs", f"The master breaks the adjacent-cut limit of {format.macs}; choose another.")
    bitting_of(format, master.cuts)


def _checked_array(
    format: CoreFormat, master: Bitting, array: Sequence[Sequence[int]] | None, refusals: Refusals
) -> Array:
    full = key_bitting_array(format, master)
    if array is None:
        return full
    if len(array) != format.positions:
        refusals.add("array", f"The array has {len(array)} columns; give {format.positions}.")
    for position, (column, allowed) in enumerate(zip(array, full, strict=False), 1):
        for cut in sorted(set(column) - set(allowed)):
            refusals.add(
                "array",
                f"Position {position}: {cut} cannot stand in the array; it must be a depth other than the "
                f"master's and a multiple of {format.step} away from it.",
                position,
            )
    return tuple(tuple(dict.fromkeys(column)) for column in array)


def _refuse_positions(code: str, found: Sequence[int], positions: int, refusals: Refusals) -> None:
    if len(set(found)) < len(found) or not set(found) <= set(range(1, positions + 1)):
        refusals.add(code, f"Name positions from 1 to {positions}, each at most once, not {list(found)}.")


@dataclass(frozen=True, slots=True)
class Hierarchy:
    """A master's tree: `groups[n]` are the positions that keys of level n + 1 fix, in their sequence.

    A path of indexes names a key: () is the master, (2,) the third key below it, (2, 0) the first below
    that. Indexes count only bittings within the adjacent-cut limit, so a path never leads to a key that
    cannot be cut.
    """

    format: CoreFormat
    master: Bitting
    array: Array
    groups: tuple[tuple[int, ...], ...]

    def children(self, path: Sequence[int] = ()) -> Progression:
        """The keys right below a key, as a progression; raises IndexError below the last level."""
        if len(path) >= len(self.groups):
            raise IndexError(f"a path of {len(path)} indexes is a change key: there is no level below it")
        return Progression(self.format, self.bitting(path), self.array, self.groups[len(path)])

    def children_total(self, path: Sequence[int] = ()) -> int:
        """How many keys can be cut right below a key."""
        return self.children(path).usable_total

    def bitting(self, path: Sequence[int]) -> Bitting:
        """The key at the end of a path; raises IndexError if there is none."""
        held = self.master
        for level, index in enumerate(path):
            if level >= len(self.groups):
                raise IndexError(f"the path has {len(path)} indexes; there are {len(self.groups)} levels")
            held = Progression(self.format, held, self.array, self.groups[level]).nth_usable(index)
        return held


def allocate(
    format: CoreFormat,
    master: Bitting,
    groups: Sequence[Sequence[int]],
    array: Sequence[Sequence[int]] | None = None,
) -> Hierarchy:
    """A hierarchy from position groups, highest level first, e.g. [[1, 2], [3, 4], [5, 6, 7]].

    Positions left out keep the master's cut in every key. Raises `Refused` as `progress` does, and `groups`
    for positions named twice, outside the core, or for a level without positions.
    """
    refusals = Refusals()
    _refuse_master(format, master, refusals)
    checked = _checked_array(format, master, array, refusals)
    _refuse_positions(
        "groups", [position for group in groups for position in group], format.positions, refusals
    )
    for level, group in enumerate(groups, 1):
        if not group:
            refusals.add("groups", f"Level {level} has no positions; give it one at least.")
    refusals.stop()
    return Hierarchy(format, master, checked, tuple(map(tuple, groups)))
