"""Every key against every core at one line: two tries walked together, from the first position to the last.

At each position there is a list of pairs of prefixes, one of keys and one of cores, that fit each other so
far. A pair goes on with each depth that both sides have next; what fits nothing is never looked at. The cost
goes with the pairs that survive, not with keys times cores. Exact.

>>> import numpy as np
>>> keys = KeyTrie(np.array([[0, 1], [2, 2], [0, 2]], np.uint8), 3)
>>> cores = BoxTrie(np.array([[0b001, 0b110], [0b101, 0b100]], np.uint64), 3)
>>> found = join(keys, cores)
>>> sorted(found.listed())
[(0, 0), (1, 1), (2, 0), (2, 1)]
>>> found.counts.tolist(), found.by_key().keys.tolist()
([2, 2], [0, 1, 2, 2])
"""

from dataclasses import dataclass

import numpy as np

from pinning.errors import PinningError, Refusal, Refused
from pinning.runs import Index, Ints, ranges, running, spread
from pinning.tries import BoxTrie, KeyTrie
from pinning.wording import said

__all__ = ["MOST_PAIRS", "Pairs", "join"]

MOST_PAIRS = 100_000_000  # 8 bytes each
# So many pairs of prefixes are held at once; each takes some 30 bytes while it goes on.
LARGEST_STEP = 4_000_000


@dataclass(frozen=True, slots=True)
class Pairs:
    """Keys and cores that fit, by their places in what was given; int32, side by side.

    As joined they are sorted by core, with one count per core; the keys of one core stand in no promised
    order. After `by_key` they are sorted by key and then by core, with one count per key.
    """

    keys: Ints
    cores: Ints
    counts: Ints

    def by_key(self, keys: int = 0) -> "Pairs":
        """The same pairs sorted by key; there are so many keys, or as many as the pairs name."""
        order = _stable_order(self.keys)
        counts = np.bincount(self.keys, minlength=keys).astype(np.int32)
        return Pairs(self.keys[order], self.cores[order], counts)

    def by_core(self, cores: int = 0) -> "Pairs":
        """The pairs sorted by core. Those of one core keep their order: after `by_key`, that of the keys."""
        order = _stable_order(self.cores)
        counts = np.bincount(self.cores, minlength=cores).astype(np.int32)
        return Pairs(self.keys[order], self.cores[order], counts)

    def listed(self) -> list[tuple[int, int]]:
        """(key, core) of each pair."""
        return list(zip(self.keys.tolist(), self.cores.tolist(), strict=True))

    def __len__(self) -> int:
        return len(self.keys)


def join(keys: KeyTrie, cores: BoxTrie, most: int = MOST_PAIRS) -> Pairs:
    """Every pair in which each cut of the key is in the core's set of that position.

    Both sides count depths alike. Raises `PinningError` for different numbers of positions or depths, and
    `Refused` (code `too_large`) past `most` pairs.
    """
    if (keys.positions, keys.depths) != (cores.positions, cores.depths):
        raise PinningError("Keys and cores differ in positions or depths; join one format at a time.")
    if not keys.count or not cores.count:
        return Pairs(_none(), _none(), np.zeros(cores.count, np.int32))
    walk = _Walk(keys, cores)
    walk.go_on(0, 0, np.zeros(1, np.int32), np.array([0, 1]))
    return _unfolded(walk, most)


class _Walk:
    """Collects the leaves: distinct keys by distinct box, boxes in their order."""

    def __init__(self, keys: KeyTrie, cores: BoxTrie) -> None:
        self.keys, self.cores = keys, cores
        self.found: list[Ints] = []
        self.counts: list[Index] = []

    def go_on(self, place: int, first: int, nodes: Ints, starts: Index) -> None:
        """`nodes[starts[n]:starts[n + 1]]` are the key prefixes that fit prefix `first + n` of the cores."""
        if place == self.cores.positions:
            self.found.append(nodes // np.int32(self.keys.depths))
            self.counts.append(np.diff(starts))
            return
        low, high = np.searchsorted(self.cores.above[place], [first, first + len(starts) - 1])
        self._step(place, (int(low), int(high)), first, nodes, starts)

    def _step(self, place: int, onward: tuple[int, int], first: int, nodes: Ints, starts: Index) -> None:
        """On to those prefixes of the next position; in halves where that is too much at once."""
        low, high = onward
        edges = self.cores.edges[place][low : high + 1]
        above = np.repeat(self.cores.above[place][low:high] - first, np.diff(edges))
        begins = starts.take(above)
        ends = running(starts.take(above + 1) - begins)
        if ends[-1] > LARGEST_STEP and high - low > 1:
            middle = (low + high) // 2
            self._step(place, (low, middle), first, nodes, starts)
            self._step(place, (middle, high), first, nodes, starts)
            return
        reached = nodes.take(ranges(begins, ends), mode="clip")
        reached += spread(self.cores.cuts[place][edges[0] : edges[-1]], ends)
        reached = self.keys.below[place].take(reached, mode="clip")
        fits = reached >= 0
        kept = running(fits).take(ends.take(edges - edges[0]))
        self.go_on(place + 1, low, reached.compress(fits), kept)


def _unfolded(walk: _Walk, most: int) -> Pairs:
    """From distinct keys and boxes to the keys and cores that have them."""
    found, counts = np.concatenate(walk.found), np.concatenate(walk.counts)
    found, counts = _each_alike(walk.keys, found, counts)
    box_of = walk.cores.box_of
    per_core = counts[box_of]
    ends = running(per_core)
    total = int(ends[-1])
    if total > most:
        reason = said(
            "{total} pairs of key and core fit, more than {most}; audit fewer at a time.",
            total=total,
            most=most,
        )
        raise Refused([Refusal("too_large", reason)])
    places = ranges(running(counts)[box_of], ends)
    cores = spread(np.arange(walk.cores.count, dtype=np.int32), ends)
    return Pairs(found.take(places), cores, per_core.astype(np.int32))


def _each_alike(keys: KeyTrie, found: Ints, counts: Index) -> tuple[Ints, Index]:
    """Places of keys for numbers of distinct bittings; several keys may be cut alike."""
    if keys.distinct == keys.count:
        return keys.order[found], counts
    ends = running(np.diff(keys.groups)[found])
    per_box = np.diff(ends[running(counts)])
    return keys.order[ranges(keys.groups[found], ends)], per_box


def _stable_order(values: Ints) -> Index:
    """What sorts numbers from 0 and keeps the order of equal ones: by halves, for which NumPy counts."""
    order = np.argsort((values & 0xFFFF).astype(np.uint16), kind="stable")
    if len(values) and int(values.max()) > 0xFFFF:
        order = order[np.argsort((values[order] >> 16).astype(np.uint16), kind="stable")]
    return order


def _none() -> Ints:
    return np.zeros(0, np.int32)
