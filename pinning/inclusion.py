"""The order of keys in a chart: who opens all that another opens, and more.

>>> from pinning.charts import Chart
>>> from pinning.formats import load
>>> opens = ((0, 1, 2), (0, 1, 3), (0, 4, 5), (0, 4, 6))
>>> chart = Chart(load("fixed-6"), tuple("TMabNcd"), tuple("1234"), opens, (frozenset(),) * 4)
>>> tree = grow_tree(chart, 2)
>>> tree.top, tree.parents, tree.depths
(0, (None, 0, 1, 1, 0, 4, 4), (0, 1, 2, 2, 1, 2, 2))
>>> crossed = Chart(chart.format, chart.keys, chart.locks, ((0, 1, 2, 4), *opens[1:]), chart.may)
>>> grow_tree(crossed, 2).pages[2]
(1, 4)
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from pinning.charts import Chart

__all__ = ["Tree", "best_tree", "grow_tree", "trees"]

# How few keys below a key still make it a master: cross keying makes others look like one.
FEWEST = (2, 3, 5, 9)
EVEN_ENOUGH = 0.5


@dataclass(frozen=True)
class Tree:
    """`parents` names the master right above each key. `top` is None where several masters have none above
    them; they then stand at depth 1 as if below a top that nobody cuts. A key of depth None stands alone.
    `above` holds every key that opens all that a key opens and more, those that open least first.
    """

    parents: tuple[int | None, ...]
    depths: tuple[int | None, ...]
    top: int | None
    above: tuple[tuple[int, ...], ...]

    @cached_property
    def children(self) -> dict[int | None, list[int]]:
        """The keys right below each key, and under None those at depth 1 where nobody cuts a top."""
        found: dict[int | None, list[int]] = {}
        for key, parent in enumerate(self.parents):
            if key != self.top and self.depths[key] is not None:
                found.setdefault(parent, []).append(key)
        return found

    @cached_property
    def masters(self) -> list[int]:
        return sorted(key for key in {*self.children, self.top} if key is not None)

    @cached_property
    def pages(self) -> dict[int, tuple[int, ...]]:
        """For keys that may stand below either of several masters, as in cross-keyed locks, all of these."""
        found = {}
        for key, parent in enumerate(self.parents):
            if parent is not None and key not in self.children:
                same = [other for other in self.above[key] if other in self.children]
                same = [other for other in same if self.depths[other] == self.depths[parent]]
                found[key] = tuple(sorted(same))
        return {key: masters for key, masters in found.items() if len(masters) > 1}

    @cached_property
    def levels(self) -> int:
        return max((depth for depth in self.depths if depth is not None), default=0)

    @property
    def evenness(self) -> float:
        """The share of the keys without others below them that stand on the last level."""
        changes = [depth for key, depth in enumerate(self.depths) if key not in self.children]
        return changes.count(self.levels) / max(len(changes), 1)

    def line(self, key: int) -> list[int]:
        """The masters above a key, nearest first."""
        found: list[int] = []
        above = self.parents[key]
        while above is not None:
            found.append(above)
            above = self.parents[above]
        return found


def trees(chart: Chart) -> list[Tree]:
    """The trees a chart may be read as: first those in which most changes stand on the last level, the
    deepest before the others.
    """
    found = list(dict.fromkeys(grow_tree(chart, fewest) for fewest in FEWEST))
    return sorted(found, key=lambda tree: -min(tree.evenness, EVEN_ENOUGH))


def best_tree(chart: Chart) -> Tree:
    return trees(chart)[0]


def grow_tree(chart: Chart, fewest: int) -> Tree:
    """The tree in which a key counts as a master if so many keys at least stand right below it.

    Cross keying puts change keys above others by chance; they have few below them.
    """
    above = _above(chart)
    parents = _parents(above, fewest)
    below = {parent for parent in parents if parent is not None}
    roots = [key for key in below if parents[key] is None]
    top = roots[0] if len(roots) == 1 else None
    depths = tuple(_depth(parents, key, top, key in below) for key in range(len(parents)))
    return Tree(tuple(parents), depths, top, tuple(map(tuple, above)))


def _depth(parents: Sequence[int | None], key: int, top: int | None, is_master: bool) -> int | None:
    steps, above = 0, key
    while (parent := parents[above]) is not None:
        steps, above = steps + 1, parent
    if steps == 0 and not is_master:
        return None
    return steps if top is not None else steps + 1


def _above(chart: Chart) -> list[list[int]]:
    """Per key, those that may open all it shall open and more than it may, with fewest locks first."""
    opened_by = [{*opens, *may} for opens, may in zip(chart.opens, chart.may, strict=True)]
    sizes = Counter(key for let_in in opened_by for key in let_in)
    bits = [sum(1 << key for key in let_in) for let_in in opened_by]
    found = []
    for key, locks in enumerate(chart.locks_of()):
        common = -1
        for lock in locks:
            common &= bits[lock]
            if common == 1 << key:
                break
        openers = opened_by[locks[0]] if locks else set()
        more = [other for other in openers if common >> other & 1 and sizes[other] > sizes[key]]
        found.append(sorted(more, key=lambda other: (sizes[other], other)))
    return found


def _parents(above: list[list[int]], fewest: int) -> list[int | None]:
    masters = {other for others in above for other in others}
    while True:
        parents = [next((other for other in others if other in masters), None) for others in above]
        below = Counter(parents)
        kept = {master for master in masters if below[master] >= fewest}
        if kept == masters:
            return parents
        masters = kept
