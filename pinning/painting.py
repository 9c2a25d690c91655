"""A union of boxes counted in a table of bits: one for each combination of the cuts that occur.

The last position's cuts are the bits of a word, the positions before it the places of the words. Boxes
with the same last cuts are painted together: painting one twice changes nothing, so no order matters. The
table is made part by part, by first cuts, so that a part stays small however large the whole is.

>>> from pinning.rules import Rules
>>> boxes = [((1, 2), (1, 2)), ((2, 3), (2, 3))]
>>> Painting(boxes, Rules()).count(), Painting(boxes, Rules(macs=0)).count()
(7, 3)
"""

from collections.abc import Collection, Iterator, Sequence
from functools import cached_property
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pinning.abiding import kept_rows
from pinning.rules import Rules

__all__ = ["Painting"]

LARGEST_PART = 2**18  # words; a part of this size stays near the processor
LARGEST_BLOCK = 2**18  # words worked out at once

Box = tuple[tuple[int, ...], ...]
Words = NDArray[Any]
Places = NDArray[np.intp]


class _Column:
    """One position: the cuts that occur in it, and which of them each box has."""

    def __init__(self, columns: Sequence[tuple[int, ...]]) -> None:
        kinds = {column: kind for kind, column in enumerate(dict.fromkeys(columns))}
        self.cuts = sorted({cut for column in kinds for cut in column})
        numbers = {cut: number for number, cut in enumerate(self.cuts)}
        self.kinds = np.array([kinds[column] for column in columns], dtype=np.intp)
        self.lengths = np.array([len(column) for column in kinds], dtype=np.intp)
        self.numbers = np.zeros((len(kinds), self.lengths.max()), dtype=np.intp)
        self.has = np.zeros((len(kinds), len(self.cuts)), dtype=bool)
        for kind, column in enumerate(kinds):
            self.numbers[kind, : len(column)] = [numbers[cut] for cut in column]
            self.has[kind, self.numbers[kind, : len(column)]] = True

    def lengths_of(self, boxes: Places) -> Places:
        return self.lengths[self.kinds[boxes]]

    def near(self, cut: int | None, macs: int | None) -> NDArray[np.bool_]:
        """Which cuts may stand beside that one."""
        cuts = np.array(self.cuts)
        return np.ones(len(cuts), bool) if macs is None or cut is None else np.abs(cuts - cut) <= macs


class Painting:
    """Boxes to be painted: different ones, of one length, none with a column that is empty."""

    def __init__(self, boxes: Collection[Box], rules: Rules) -> None:
        self.rules = rules
        self.boxes = np.arange(len(boxes))
        self.columns = [_Column(columns) for columns in zip(*boxes, strict=True)]

    @property
    def size(self) -> int:
        """How many combinations the cuts that occur make: the bits of the whole table."""
        return prod(len(column.cuts) for column in self.columns)

    @property
    def words(self) -> float:
        """How many words are painted, each box counted by itself."""
        return float(self._sizes(self.boxes, self.columns[:-1]).sum())

    def count(self) -> int:
        """Bittings in any box that keep to the rules. Takes time in proportion to `size` and `words`."""
        return self._count(self.boxes, ())

    def _count(self, boxes: Places, first: tuple[int, ...]) -> int:
        """Bittings that begin with these cuts, all in these boxes."""
        here = len(first)
        if here == self._start:
            return self._count_part(boxes, first)
        column, last = self.columns[here], first[-1] if first else None
        kinds = column.kinds[boxes]
        total = 0
        for number in np.flatnonzero(column.near(last, self.rules.macs)):
            if len(left := boxes[column.has[kinds, number]]):
                total += self._count(left, (*first, column.cuts[number]))
        return total

    @cached_property
    def _start(self) -> int:
        """The position from which on a table of words is a part."""
        sizes = [len(column.cuts) for column in self.columns[:-1]]
        return next(here for here in range(len(sizes) + 1) if prod(sizes[here:]) <= LARGEST_PART)

    @cached_property
    def _legal(self) -> Words:
        """By the cut before the part (one row where it begins), the words' bits that the limit allows."""
        macs, ends = self.rules.macs, self.columns[-1]
        bits = (1 << np.arange(len(ends.cuts), dtype=np.uint64)).astype(self._word)
        words = np.array([[bits[ends.near(cut, macs)].sum()] for cut in self._before(-1)], self._word)
        for here in range(len(self.columns) - 2, self._start - 1, -1):
            near = np.array([self.columns[here].near(cut, macs) for cut in self._before(here)])
            words = np.where(near[:, :, None], words[None], 0).reshape(len(near), -1).astype(self._word)
        return words

    def _before(self, here: int) -> Sequence[int | None]:
        return self.columns[here - 1].cuts if here % len(self.columns) else [None]

    @cached_property
    def _word(self) -> type[np.unsignedinteger[Any]]:
        """The narrowest word with a bit for each cut of the last position."""
        words: list[type[np.unsignedinteger[Any]]] = [np.uint8, np.uint16, np.uint32, np.uint64]
        return next(word for word in words if word(0).itemsize * 8 >= len(self.columns[-1].cuts))

    def _count_part(self, boxes: Places, first: tuple[int, ...]) -> int:
        table = np.zeros(self._legal.shape[1], self._word)
        for block in self._blocks(self._in_strokes(boxes)):
            self._paint(table, block)
        before = self._before(self._start).index(first[-1]) if first else 0
        table &= self._legal[before]
        if self.rules == Rules(macs=self.rules.macs):
            return int(np.bitwise_count(table).sum(dtype=np.int64))
        return sum(int(kept_rows(rows, self.rules).sum()) for rows in self._rows(table, first))

    def _in_strokes(self, boxes: Places) -> Places:
        """Boxes with the same last cuts, and as many in the position before, stand together."""
        return boxes[np.lexsort((self._widths(boxes), self.columns[-1].kinds[boxes]))]

    def _widths(self, boxes: Places) -> Places:
        """How many words side by side each box paints at a time."""
        return self._middle[-1].lengths_of(boxes) if self._middle else np.ones(len(boxes), np.intp)

    @cached_property
    def _middle(self) -> list[_Column]:
        """The positions that are places of words in a part."""
        return self.columns[self._start : -1]

    def _blocks(self, boxes: Places) -> Iterator[Places]:
        """The boxes in runs that paint so many words at most, or are one box."""
        ends = np.cumsum(self._sizes(boxes, self._middle))
        cuts = np.searchsorted(ends, np.arange(LARGEST_BLOCK, ends[-1], LARGEST_BLOCK))
        yield from (block for block in np.split(boxes, np.unique(cuts)) if len(block))

    def _sizes(self, boxes: Places, columns: Sequence[_Column]) -> NDArray[np.float64]:
        """By box, the words that it takes in those columns."""
        sizes = np.ones(len(boxes))
        for column in columns:
            sizes *= column.lengths_of(boxes)
        return sizes

    def _paint(self, table: Words, boxes: Places) -> None:
        places, owners = self._prefixes(boxes)
        kinds, widths = self.columns[-1].kinds[boxes], self._widths(boxes)
        strokes = np.flatnonzero(np.diff(kinds) | np.diff(widths)) + 1
        begins = [0, *strokes.tolist()]
        bounds = np.searchsorted(owners, [*begins, len(boxes)]).tolist()
        for begin, low, high in zip(begins, bounds, bounds[1:], strict=False):
            where = places[low:high]
            if self._middle:
                column = self._middle[-1]
                numbers = column.numbers[column.kinds[boxes[owners[low:high]]], : widths[begin]]
                where = (where[:, None] * len(column.cuts) + numbers).ravel()
            table[where] |= self._bits(kinds[begin])

    def _bits(self, kind: int) -> Any:
        numbers = np.flatnonzero(self.columns[-1].has[kind]).tolist()
        return self._word(sum(1 << number for number in numbers))

    def _prefixes(self, boxes: Places) -> tuple[Places, Places]:
        """(place, which box) for every choice of cuts in the part's positions but the last two, by box."""
        places, owners = np.zeros(len(boxes), np.intp), np.arange(len(boxes))
        for column in self._middle[:-1]:
            kinds = column.kinds[boxes[owners]]
            lengths = column.lengths[kinds]
            if (width := lengths[0]) == lengths.min() == lengths.max():
                owners = np.repeat(owners, width)
                chosen, begun = column.numbers[kinds, :width].ravel(), np.repeat(places, width)
            else:
                ends = np.cumsum(lengths)
                nth = np.arange(ends[-1]) - np.repeat(ends - lengths, lengths)
                owners, begun = np.repeat(owners, lengths), np.repeat(places, lengths)
                chosen = column.numbers[np.repeat(kinds, lengths), nth]
            places = begun * len(column.cuts) + chosen
        return places, owners

    def _rows(self, table: Words, first: tuple[int, ...]) -> Iterator[NDArray[np.intp]]:
        """The painted bittings as rows of cuts, by last cut."""
        middle = self._middle
        for number, cut in enumerate(self.columns[-1].cuts):
            places = np.flatnonzero(table >> self._word(number) & self._word(1))
            found = np.unravel_index(places, [len(column.cuts) for column in middle]) if middle else ()
            known = [np.full(len(places), value) for value in first]
            chosen = [np.array(column.cuts)[each] for column, each in zip(middle, found, strict=True)]
            yield np.stack([*known, *chosen, np.full(len(places), cut)], axis=1)
