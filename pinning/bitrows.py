"""One key against a million cores, or one core against all keys: rows of bits.

For a few neighbouring positions and each combination of depths there, a row has one bit per core whose pins
let those depths pass the line. Where one key turns is the AND of the rows of its cuts. Cores lie in the order
of their sets, so the rows of the first positions are empty for the most part: of them only the words that
hold a bit are kept, and of the other rows only those words are read. Keys have rows of their own, one bit per
key with the depth; a core asks for the AND over positions of the OR over the depths that clear it.

>>> rows = CoreRows(np.array([[0b001, 0b110], [0b101, 0b100]], np.uint64), 3)
>>> rows.cores_of([0, 2]).tolist(), rows.cores_of([2, 1]).tolist()
([0, 1], [])
>>> rows.change(1, [0b111, 0b111])
>>> rows.cores_of([2, 1]).tolist()
[1]
>>> KeyRows(np.array([[0, 1], [2, 2], [0, 2]], np.uint8), 3).keys_of([0b101, 0b100]).tolist()
[1, 2]
"""

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from pinning.runs import Index, Ints
from pinning.tries import Boxes, Cuts, sorted_boxes

__all__ = ["CoreRows", "KeyRows"]

Words = NDArray[np.uint64]
Flags = NDArray[np.bool_]
Combination = tuple[int, ...]
WORD = 64
# So many combinations of the first depths have a row of words; later positions are taken two by two.
MOST_HEADS = 1024
MOST_PAIRS = 128


class CoreRows:
    """The cores of one format at one line: `boxes` as in `tries.BoxTrie`."""

    def __init__(self, boxes: Boxes, depths: int) -> None:
        self.count, self.positions = boxes.shape
        self.depths = depths
        self._order = sorted_boxes(boxes, depths)
        self._place: Ints = np.argsort(self._order).astype(np.int32)
        self._boxes = boxes[self._order]
        self._head, *self._tails = _groups(self.positions, depths)
        rows = [_rows_of(column, depths) for column in self._boxes.T]
        self._heads = {
            cuts: _sparse(row) for cuts, row in _combined(rows[: self._head.stop], depths, _words(self.count))
        }
        self._tables = [dict(_combined(rows[tail], depths, _words(self.count))) for tail in self._tails]

    def cores_of(self, cuts: Sequence[int]) -> Ints:
        """The cores that let this key pass, ascending; `cuts` are depth numbers counted from 0."""
        own = tuple(cuts)
        words, found = self._heads[own[self._head]]
        for tail, table in zip(self._tails, self._tables, strict=True):
            found = found & table[own[tail]].take(words)
        held = found.nonzero()[0]
        return np.sort(self._order.take(_places(words.take(held), found.take(held))))

    def change(self, core: int, box: Sequence[int]) -> None:
        """Core number `core` has other pins now."""
        place = int(self._place[core])
        for sets, is_set in ((self._boxes[place].tolist(), False), (box, True)):
            self._write(place, [_depths_of(held, self.depths) for held in sets], is_set)
        self._boxes[place] = box

    def _write(self, place: int, columns: Sequence[Sequence[int]], is_set: bool) -> None:
        word, bit = place // WORD, np.uint64(1 << place % WORD)
        for cuts in product(*columns[self._head]):
            words, bits = self._heads[cuts]
            at = int(np.searchsorted(words, word))
            if at == len(words) or words[at] != word:
                words, bits = np.insert(words, at, word), np.insert(bits, at, np.uint64(0))
                self._heads[cuts] = words, bits
            bits[at] = _written(bits[at], bit, is_set)
        for tail, table in zip(self._tails, self._tables, strict=True):
            for cuts in product(*columns[tail]):
                table[cuts][word] = _written(table[cuts][word], bit, is_set)


class KeyRows:
    """The keys of one format: `cuts` as in `tries.KeyTrie`."""

    def __init__(self, cuts: Cuts, depths: int) -> None:
        self.count, self.positions = cuts.shape
        self.depths = depths
        self._rows = [[_packed(column == cut) for cut in range(depths)] for column in cuts.T]

    def keys_of(self, box: Sequence[int]) -> Ints:
        """The keys that pass a core's line, ascending; `box` holds one bit set per position."""
        found: Words | None = None
        for rows, cuts in zip(self._rows, box, strict=True):
            chosen = [rows[cut] for cut in _depths_of(cuts, self.depths)]
            if not chosen:
                return np.zeros(0, np.int32)
            found = _narrowed(found, chosen)
        if found is None:
            return np.arange(self.count, dtype=np.int32)
        held = np.flatnonzero(found != 0)
        return _places(held, found[held]).astype(np.int32)


def _groups(positions: int, depths: int) -> Iterator[slice]:
    """The first positions together, as many as have few combinations, then the others by twos."""
    first = 1
    while first < positions and depths ** (first + 1) <= MOST_HEADS:
        first += 1
    yield slice(0, min(first, positions))
    width = 2 if depths**2 <= MOST_PAIRS else 1
    for start in range(first, positions, width):
        yield slice(start, min(start + width, positions))


def _combined(
    rows: Sequence[Sequence[Words]], depths: int, words: int
) -> Iterator[tuple[Combination, Words]]:
    """Every combination of depths at these positions, with the AND of its rows."""
    if not rows:
        yield (), np.full(words, ~np.uint64(0))
        return
    first, *others = rows
    for cut in range(depths):
        if not others:
            yield (cut,), first[cut]
            continue
        for cuts, row in _combined(others, depths, words):
            yield (cut, *cuts), first[cut] & row


def _sparse(row: Words) -> tuple[Index, Words]:
    words = np.flatnonzero(row != 0)
    return words, row[words]


def _rows_of(column: Boxes, depths: int) -> list[Words]:
    bits = [np.uint64(1) << np.uint64(cut) for cut in range(depths)]
    return [_packed((column & bit) != 0) for bit in bits]


def _written(word: np.uint64, bit: np.uint64, is_set: bool) -> np.uint64:
    return word | bit if is_set else word & ~bit


def _depths_of(cuts: int, depths: int) -> list[int]:
    return [cut for cut in range(depths) if cuts >> cut & 1]


def _narrowed(found: Words | None, chosen: Sequence[Words]) -> Words:
    """What was found so far and lies in one of the rows."""
    any_of = chosen[0] if len(chosen) == 1 else chosen[0] | chosen[1]
    for row in chosen[2:]:
        any_of |= row
    return any_of if found is None else found & any_of


def _words(count: int) -> int:
    return -(-count // WORD)


def _packed(flags: Flags) -> Words:
    """One bit each, in whole words; the bits past the last one are 0."""
    words = np.zeros(_words(len(flags)), np.uint64)
    octets = np.packbits(flags, bitorder="little")
    words.view(np.uint8)[: len(octets)] = octets
    return words


def _places(numbers: Index, words: Words) -> Index:
    """The numbers of the set bits, ascending, where each word has its number."""
    bits = np.unpackbits(words.view(np.uint8), bitorder="little").nonzero()[0]
    return (numbers << 6).take(bits >> 6) + (bits & 63)
