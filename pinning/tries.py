"""Keys and cores as sorted prefixes: what many have in common from the first position is looked at once.

A key is a row of depth numbers counted from 0, a core at one of its lines a row of bit sets: bit d of a
position is set where depth d clears the line there. Rows that are alike are one. Arrays only; `estates` makes
them from bittings and pins.

>>> keys = KeyTrie(np.array([[0, 1], [0, 2], [0, 1]], np.uint8), 3)
>>> keys.distinct, keys.groups.tolist(), keys.order.tolist()
(2, [0, 2, 3], [0, 2, 1])
"""

from collections.abc import Sequence
from math import prod

import numpy as np
from numpy.typing import NDArray

from pinning.runs import Index, Ints, running

__all__ = ["MOST_DEPTHS", "BoxTrie", "Boxes", "Cuts", "KeyTrie", "sorted_boxes"]

Cuts = NDArray[np.uint8]
Boxes = NDArray[np.uint64]
Columns = Sequence[NDArray[np.integer]]

MOST_DEPTHS = 64  # the bits of one set
LARGEST_CODE = 2**63
FEW_DEPTHS = 16  # so many, and all sets of them fit into one small table


class KeyTrie:
    """`cuts` is (keys, positions), each below `depths`.

    `order` sorts the keys; `order[groups[n]:groups[n + 1]]` are the keys with the n-th distinct bitting.
    `below[p]` leads from a prefix of p cuts and the next cut to the longer prefix: at [node + cut], where a
    node is its number times `depths`; -1 where no key goes on so.
    """

    def __init__(self, cuts: Cuts, depths: int) -> None:
        self.count, self.positions = cuts.shape
        self.depths = depths
        columns = [np.ascontiguousarray(column) for column in cuts.T]
        order, self.groups = _sorted_rows(columns, [depths] * self.positions, self.count)
        self.order: Ints = order.astype(np.int32)
        rows = order[self.groups[:-1]]
        self.below = _tables([column[rows] for column in columns], depths)

    @property
    def distinct(self) -> int:
        return len(self.groups) - 1


class BoxTrie:
    """`boxes` is (cores, positions), for one line.

    `box_of` numbers each core's box among the distinct ones, which are sorted. By position p: `above[p]`
    holds for each prefix of p + 1 sets the prefix of p sets that it goes on from, ascending; its depths at p
    are `cuts[p][edges[p][n]:edges[p][n + 1]]`.
    """

    def __init__(self, boxes: Boxes, depths: int) -> None:
        self.count, self.positions = boxes.shape
        self.depths = depths
        numbered = [_numbered(column, depths) for column in boxes.T]
        sets, columns = [found for found, _ in numbered], [column for _, column in numbered]
        order, groups = _sorted_rows(columns, list(map(len, sets)), self.count)
        self.distinct = len(groups) - 1
        self.box_of: Ints = np.empty(self.count, np.int32)
        self.box_of[order] = np.repeat(np.arange(self.distinct, dtype=np.int32), np.diff(groups))
        self.above: list[Ints] = []
        self.edges: list[Index] = []
        self.cuts: list[Ints] = []
        rows = order[groups[:-1]]
        self._grow(sets, [column[rows] for column in columns])

    def _grow(self, sets: Sequence[Boxes], columns: Sequence[Ints]) -> None:
        parent = np.zeros(self.distinct, np.int32)
        for held, column, (starts, node) in zip(sets, columns, _prefixes(columns), strict=True):
            chosen = _members(held, self.depths)[column[starts]]
            self.above.append(parent[starts])
            self.edges.append(running(chosen.sum(axis=1, dtype=np.intp)))
            self.cuts.append((np.flatnonzero(chosen) % self.depths).astype(np.int32))
            parent = node


def sorted_boxes(boxes: Boxes, depths: int) -> Ints:
    """The order that puts cores with the same first sets side by side."""
    numbered = [_numbered(column, depths) for column in boxes.T]
    order, _ = _sorted_rows(
        [column for _, column in numbered], [len(sets) for sets, _ in numbered], len(boxes)
    )
    return order.astype(np.int32)


def _sorted_rows(columns: Columns, radices: Sequence[int], count: int) -> tuple[Index, Index]:
    """The order that sorts the rows, and where in it each distinct row begins, with the end."""
    if not columns or prod(radices) < LARGEST_CODE:
        codes = np.zeros(count, np.int64)
        for column, radix in zip(columns, radices, strict=True):
            codes *= radix
            codes += column
        order = np.argsort(codes, kind="stable")
        codes = codes[order]
        differs = codes[1:] != codes[:-1]
    else:
        order = np.lexsort(columns[::-1])
        shown = [column[order] for column in columns]
        differs = np.logical_or.reduce([column[1:] != column[:-1] for column in shown])
    starts = np.flatnonzero(np.concatenate([np.ones(min(count, 1), bool), differs]))
    return order, np.append(starts, count)


def _prefixes(columns: Columns) -> list[tuple[Index, Ints]]:
    """By position, in sorted distinct rows: the rows that begin a prefix, and the prefix of each row."""
    is_new, found = np.zeros(len(columns[0]) if columns else 0, bool), []
    is_new[:1] = True
    for column in columns:
        is_new[1:] |= column[1:] != column[:-1]
        found.append((np.flatnonzero(is_new), np.cumsum(is_new, dtype=np.int32) - np.int32(1)))
    return found


def _tables(columns: Sequence[Cuts], depths: int) -> list[Ints]:
    tables, parent, count = [], np.zeros(len(columns[0]) if columns else 0, np.intp), 1
    for column, (starts, node) in zip(columns, _prefixes(columns), strict=True):
        table = np.full(count * depths, -1, np.int32)
        table[parent[starts] * depths + column[starts]] = np.arange(len(starts), dtype=np.int32) * depths
        tables.append(table)
        parent, count = node.astype(np.intp), len(starts)
    return tables


def _numbered(column: Boxes, depths: int) -> tuple[Boxes, Ints]:
    """The distinct sets of a position in order, and the number of each core's set among them."""
    if depths > FEW_DEPTHS:
        sets, found = np.unique(column, return_inverse=True)
        return sets, found.astype(np.int32)
    values = column.astype(np.intp)
    is_used = np.zeros(1 << depths, bool)
    is_used[values] = True
    numbers = np.cumsum(is_used, dtype=np.int32) - np.int32(1)
    return np.flatnonzero(is_used).astype(np.uint64), numbers.take(values)


def _members(sets: Boxes, depths: int) -> NDArray[np.bool_]:
    """[set, depth]: whether the depth is in it."""
    bits = np.uint64(1) << np.arange(depths, dtype=np.uint64)
    found: NDArray[np.bool_] = (sets[:, None] & bits) != 0
    return found
