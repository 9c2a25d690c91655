"""Cores that are pinned anew after a loss: what stays in them, and what one more key would let in.

Of each core the keys that stay are known; one new key is added to all of them. A break at the new key's cut
opens boxes that were shut before, so each fault of a candidate is a *pattern*: cuts in some positions that
together let a key in, or let the new key into a core that is not its own. A candidate that has all cuts of
a pattern is no key for these cores, whatever its other cuts are. A position without pins never occurs here.

>>> from pinning.bittings import parse_bitting as read
>>> from pinning.formats import load
>>> a2 = load("small-a2-6")
>>> part = Part(a2, [[read(a2, "301010")]], read(a2, "016565"))
>>> keys = {"lost": read(a2, "143254"), "CTR": read(a2, "016565")}
>>> ground = Ground(part, keys, lost=["lost"], control="CTR")
>>> ground.let_in_anyhow(), ground.faults(read(a2, "143254")) != [], ground.faults(read(a2, "187238"))
([], True, [])
"""

from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pinning.bittings import Bitting
from pinning.figures import CoreFormat
from pinning.joins import Pairs, join
from pinning.sides import KeySide
from pinning.tries import Boxes, BoxTrie

__all__ = ["Ground", "Outside", "Part", "Pattern", "fits_kit"]

MOST_PATTERNS = 4_000  # of one candidate
NONE = -1

Column = tuple[int, ...]
Pattern = tuple[tuple[int, ...], ...]
"""Per position the depths that take part, by their places among the format's depths; () where any does."""

Flags = NDArray[np.bool_]
Codes = NDArray[np.int64]


def fits_kit(format: CoreFormat, position: int, cuts: Collection[int], control: int | None) -> bool:
    """Whether one position can be pinned to these operating cuts and that control cut."""
    column = sorted(set(cuts))
    if any((cut - column[0]) % format.step for cut in column) or column[0] not in format.pins.bottom:
        return False
    if any(deeper - cut not in format.pins.master for cut, deeper in pairwise(column)):
        return False
    if position not in format.sleeve:
        fits_control = control is None or control in column
        return fits_control and format.plain_top(column[-1]) in format.pins.top
    if control is None:
        return False
    top = (format.total.sleeve or 0) - format.addition - control
    return control + format.addition - column[-1] in format.pins.control and top in format.pins.top


class Part:
    """The cores, by the keys that stay in each; they have one control key, None where the format has none.

    `operating` and `withdrawing` are (cores, positions): the depths that clear each line so far, as bits.
    """

    def __init__(
        self, format: CoreFormat, kept: Sequence[Sequence[Bitting]], control: Bitting | None
    ) -> None:
        self.format, self.kept, self.control = format, kept, control
        self.columns = [_columns(format, keys) for keys in kept]
        lines = [_Line(format, control, addition) for addition in (0, format.addition)]
        self.operating = lines[0].boxes(self.columns)
        self.withdrawing = lines[1].boxes(self.columns if format.sleeve else [])

    def __len__(self) -> int:
        return len(self.columns)

    @cached_property
    def domains(self) -> list[Column]:
        """Per position the depths, by their places, that a further key may have as far as pins exist."""
        found = []
        for place in range(self.format.positions):
            control = self.control.cuts[place] if self.control else None
            columns = {columns[place] for columns in self.columns}
            found.append(
                tuple(
                    rank
                    for rank, cut in enumerate(self.format.depth_values)
                    if all(fits_kit(self.format, place + 1, {cut, *column}, control) for column in columns)
                )
            )
        return found

    def boxes_with(self, bitting: Bitting) -> tuple[Boxes, Boxes]:
        """What the cores let in at each line once they are pinned for this key too."""
        operating, withdrawing = self.operating.copy(), self.withdrawing.copy()
        for place, rank in enumerate(_ranks(self.format, bitting)):
            operating[:, place] |= np.uint64(1 << rank)
            clearing = _clearing_at_control(self.format, place + 1, rank)
            if len(withdrawing) and clearing is not None:
                withdrawing[:, place] |= np.uint64(1 << clearing)
        return operating, withdrawing


@dataclass(frozen=True)
class Outside:
    """What the cores that a new key must not touch let in, at either line: (boxes, positions) of bits."""

    boxes: Boxes

    def let_in_any(self, keys: "KeySide[Hashable]") -> list[Hashable]:
        """Which of many keys get in somewhere."""
        trie = BoxTrie(self.boxes, len(keys.format.depth_values))
        return [keys.ids[place] for place in np.unique(join(keys.trie, trie).keys).tolist()]

    def letting_in(self, format: CoreFormat, bitting: Bitting) -> list[Pattern]:
        bits = np.array([1 << rank for rank in _ranks(format, bitting)], np.uint64)
        hit = self.boxes[((self.boxes & bits) != 0).all(axis=1)]
        return [
            tuple(_places_of(int(column)) for column in row) for row in np.unique(hit, axis=0)[:MOST_PATTERNS]
        ]


class Ground:
    """Where one new key shall stand: the cores of a part, the keys around them, the cores outside.

    `keys` are all that enter the cores, the lost ones among them; `lost` and `control` name some of them.
    `known` are effects that are there already and may stay, as (core's place, key, operates, withdraws); a
    lost key's never stay.
    """

    def __init__(
        self,
        part: Part,
        keys: "Mapping[Hashable, Bitting] | KeySide[Hashable]",
        *,
        lost: Iterable[Hashable],
        control: Hashable = None,
        outside: Outside | None = None,
        known: Iterable[tuple[int, Hashable, bool, bool]] = (),
    ) -> None:
        self.part, self.format = part, part.format
        self.side = keys if isinstance(keys, KeySide) else KeySide(part.format, keys)
        listed = list(known)
        self.outside = outside or Outside(np.zeros((0, part.format.positions), np.uint64))
        places = {key: place for place, key in enumerate(self.side.ids)}
        self.lost = np.array(sorted(places[key] for key in lost), np.int64)
        self.control = places.get(control, NONE)
        self._known = [
            _codes([(core, places[key]) for core, key, *effect in listed if effect[line] and key in places])
            for line in (0, 1)
        ]

    def let_in_anyhow(self) -> list[int]:
        """The places of the cores that let a lost key in by the keys that stay: no new key helps there."""
        rows = self.side.cuts[self.lost]
        found = np.zeros(len(self.part), bool)
        for boxes in (self.part.operating, self.part.withdrawing):
            for row in rows if len(boxes) else rows[:0]:
                found |= ((boxes & _bits(row)) != 0).all(axis=1)
        return np.flatnonzero(found).tolist()

    def faults(self, candidate: Bitting) -> list[Pattern]:
        """What is wrong with a candidate; none is nothing."""
        if same := self._same_key(candidate):
            return same
        if found := self.outside.letting_in(self.format, candidate) or self._withdrawing_itself(candidate):
            return found
        operating, withdrawing = self.part.boxes_with(candidate)
        found = self._newly_let_in(operating, self.part.operating, lift=0)
        if not found and len(withdrawing):
            found = self._newly_let_in(withdrawing, self.part.withdrawing, lift=self.format.addition)
        return found

    def _same_key(self, candidate: Bitting) -> list[Pattern]:
        ranks = _ranks(self.format, candidate)
        same = (self.side.cuts == np.array(ranks, np.uint8)).all(axis=1).any()
        return [tuple((rank,) for rank in ranks)] if same else []

    def _withdrawing_itself(self, candidate: Bitting) -> list[Pattern]:
        """The new key would take one of its own cores out."""
        if not self.format.sleeve:
            return []
        _, withdrawing = self.part.boxes_with(candidate)
        own = ((withdrawing & _bits(_ranks(self.format, candidate))) != 0).all(axis=1)
        patterns = {self._own_pattern(int(row)) for row in np.flatnonzero(own)[:MOST_PATTERNS]}
        return sorted(patterns)

    def _own_pattern(self, row: int) -> Pattern:
        """Under the sleeve, what clears by the keys that stay; by itself no cut clears both lines there."""
        columns = []
        for place in range(self.format.positions):
            under = place + 1 in self.format.sleeve
            columns.append(_places_of(int(self.part.withdrawing[row, place])) if under else ())
        return tuple(columns)

    def _newly_let_in(self, boxes: Boxes, before: Boxes, lift: int) -> list[Pattern]:
        found = join(self.side.trie, BoxTrie(boxes, len(self.format.depth_values)))
        keys, cores = self._fresh(found, lift)
        cuts = self.side.cuts[keys].astype(np.int64)
        bits = np.uint64(1) << self.side.cuts[keys].astype(np.uint64)
        opened = (before[cores] & bits) == 0
        taking_part = opened.any(axis=1)
        rows = np.where(opened, self._cause(cuts, lift), NONE)[taking_part]
        return [
            tuple((rank,) if rank != NONE else () for rank in row)
            for row in np.unique(rows, axis=0)[:MOST_PATTERNS].tolist()
        ]

    def _fresh(self, found: Pairs, lift: int) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
        """Pairs that nobody means and that did not turn before. A lost key never counts as known."""
        is_lost = np.isin(found.keys, self.lost)
        kept = is_lost | ~np.isin(_coded(found.cores, found.keys), self._known[bool(lift)])
        if lift:
            kept &= found.keys != self.control
        return found.keys[kept], found.cores[kept]

    def _cause(self, cuts: NDArray[np.int64], lift: int) -> NDArray[np.int64]:
        """The new key's cut that lets these cuts clear the line: the same, or one deeper by the sleeve."""
        if not lift:
            return cuts
        cause = cuts.copy()
        values = np.array(self.format.depth_values)
        for place in self.format.sleeve:
            cause[:, place - 1] = np.searchsorted(values, values[cuts[:, place - 1]] + lift)
        return cause


class _Line:
    """The depths that clear one line in each position, by what a column is pinned to."""

    def __init__(self, format: CoreFormat, control: Bitting | None, addition: int) -> None:
        self.format, self.control, self.addition = format, control, addition
        self._kept: dict[tuple[int, Column], int] = {}

    def boxes(self, columns: Sequence[Sequence[Column]]) -> Boxes:
        rows = [[self._bits(place, column) for place, column in enumerate(core)] for core in columns]
        return np.array(rows, np.uint64).reshape(len(columns), self.format.positions)

    def _bits(self, place: int, column: Column) -> int:
        if (place, column) not in self._kept:
            lift = self.addition if place + 1 in self.format.sleeve else 0
            breaks = set(column)
            if place + 1 in self.format.sleeve and self.control is not None:
                breaks.add(self.control.cuts[place] + self.format.addition)
            clearing = [n for n, depth in enumerate(self.format.depth_values) if depth + lift in breaks]
            self._kept[place, column] = sum(1 << rank for rank in clearing)
        return self._kept[place, column]


def _columns(format: CoreFormat, keys: Sequence[Bitting]) -> tuple[Column, ...]:
    if not keys:
        return ((),) * format.positions
    return tuple(tuple(sorted(set(column))) for column in zip(*(key.cuts for key in keys), strict=True))


def _ranks(format: CoreFormat, bitting: Bitting) -> list[int]:
    return [format.depth_values.index(cut) for cut in bitting.cuts]


def _clearing_at_control(format: CoreFormat, position: int, rank: int) -> int | None:
    """The depth that clears the control line by an operating cut of that depth, by place; None if none."""
    if position not in format.sleeve:
        return rank
    cut = format.depth_values[rank] - format.addition
    return format.depth_values.index(cut) if cut in format.depth_values else None


def _bits(ranks: Iterable[int]) -> Boxes:
    return np.array([1 << int(rank) for rank in ranks], np.uint64)


def _places_of(bits: int) -> tuple[int, ...]:
    return tuple(place for place in range(bits.bit_length()) if bits >> place & 1)


def _codes(pairs: Sequence[Sequence[int]]) -> Codes:
    array = np.array(pairs, np.int64).reshape(len(pairs), 2)
    return _coded(array[:, 0], array[:, 1])


def _coded(cores: NDArray[np.integer], keys: NDArray[np.integer]) -> Codes:
    return cores.astype(np.int64) << 32 | keys.astype(np.int64)
