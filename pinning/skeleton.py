"""Laying out a hierarchical chart by total position progression before any search.

Positions are dealt out to levels: a master fixes those of its own level, shares those above with the master
over it and carries the top's cuts in the rest. Then a lock's box in the upper positions is that of its page,
and what is left for the search is small: the masters' words among each other, and the changes in their page.
Keys in use already tell which position belongs to which level, as far as they were made that way.

Nothing here is a proof: a chart that cannot be laid out like this may still have an answer.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from random import Random

import numpy as np

from pinning.bittings import Bitting, bitting_of
from pinning.charts import Chart
from pinning.controls import make_room, propose_control
from pinning.encoding import Frame
from pinning.errors import Refused
from pinning.inclusion import Tree
from pinning.progression import Array, is_within_limit, key_bitting_array
from pinning.trials import Trial

__all__ = ["Layout", "lay_out"]

TRIES = 200
MOST_WORDS = 5_000

Cuts = tuple[int, ...]


@dataclass(frozen=True)
class Layout:
    """`levels` holds per position the level whose keys fix it, 1 being right below the top."""

    chart: Chart
    tree: Tree
    top: Cuts
    array: Array
    levels: Cuts
    control: Cuts | None

    def frame(self, keys: Sequence[int], masters: Mapping[int, Cuts] | None = None) -> Frame:
        """The choices of these keys, numbered as they are listed. With the masters' cuts a key that may
        stand below several of them is free to.
        """
        frame, numbers = Frame(control=self.control), {key: number for number, key in enumerate(keys)}
        led = self._led()
        for key in keys:
            for place, level in enumerate(self.levels):
                holder = self._holder(key, level)
                pages = self.tree.pages.get(key, ()) if masters and holder != key else ()
                if pages and masters and key not in self.chart.fixed:
                    frame.allowed[numbers[key], place] = self._places(
                        [masters[page][place] for page in pages]
                    )
                elif holder != key and holder in numbers:
                    frame.same[numbers[key], place] = numbers[holder]
                elif key not in self.chart.fixed:
                    allowed = led.get((key, place)) or self._allowed(key, place)
                    frame.allowed[numbers[key], place] = self._places(allowed)
        return frame

    def _places(self, cuts: Sequence[int]) -> tuple[int, ...]:
        values = self.chart.format.depth_values
        return tuple(sorted({values.index(cut) for cut in cuts}))

    def _holder(self, key: int, level: int) -> int:
        """The key itself or the master above it that fixes a position of that level."""
        for master in self.tree.line(key):
            if self.tree.depths[master] == level:
                return master
        return key

    def _allowed(self, key: int, place: int) -> Sequence[int]:
        depth, level = self.tree.depths[key], self.levels[place]
        if key == self.tree.top:
            return (self.top[place],)
        is_master = key in self.tree.children
        if depth is not None and is_master and depth != level:
            return (self.top[place],)
        if depth is not None and (is_master or depth == self.tree.levels):
            return self.array[place]
        return (self.top[place], *self.array[place])

    def _led(self) -> dict[tuple[int, int], Cuts]:
        """Cuts of masters without a bitting that a key in use below them tells."""
        found: dict[tuple[int, int], Cuts] = {}
        for key, cuts in self.chart.fixed.items():
            for place, level in enumerate(self.levels):
                holder = self._holder(key, level)
                if holder != key and holder not in self.chart.fixed and cuts[place] in self.array[place]:
                    found.setdefault((holder, place), (cuts[place],))
        return found

    def wished(self, chart: Chart, masters: dict[int, Cuts], rng: Random) -> Trial:
        """Where a search for the change keys best begins: other words of the page for each of them, the
        first of them out of few depths, so that a common door stays narrow.
        """
        rows = [list(self.top) for _ in chart.keys]
        for key, cuts in {**masters, **chart.fixed}.items():
            rows[key] = list(cuts)
        for parent, children in self.tree.children.items():
            depth = -1 if parent is None else self.tree.depths[parent] or 0
            own = [place for place, level in enumerate(self.levels) if level > depth]
            taken = {tuple(rows[key][place] for place in own) for key in children if key in chart.fixed}
            words = (word for word in self._words(own, rng) if word not in taken)
            for key in children:
                if key not in self.tree.children and key not in chart.fixed:
                    rows[key] = list(masters.get(parent, self.top) if parent is not None else self.top)
                    for place, cut in zip(own, next(words, ()), strict=False):
                        rows[key][place] = cut
        if self.chart.has_control:
            rows.append(list(self.control or chart.control or self.top))
        values = np.array(chart.format.depth_values)
        return Trial(np.searchsorted(values, np.array(rows)))

    def _words(self, places: Sequence[int], rng: Random) -> Iterator[Cuts]:
        columns = [rng.sample(self.array[place], len(self.array[place])) for place in places]
        while prod(map(len, columns)) > MOST_WORDS:
            columns = [column[:-1] if len(column) > 1 else column for column in columns]
        numbered = sorted(
            product(*map(range, map(len, columns))), key=lambda word: (max(word, default=0), word)
        )
        for word in numbered:
            yield tuple(column[turn] for column, turn in zip(columns, word, strict=True))


def lay_out(chart: Chart, tree: Tree, rng: Random) -> Layout | None:
    """A layout with a top drawn at random, or None where the chart does not fit into one."""
    for _ in range(TRIES):
        top = _top(chart, tree, rng)
        if top is None or not is_within_limit(chart.format, top.cuts):
            continue
        try:
            array, control = _array(chart, top, rng)
        except Refused:
            continue
        levels = _deal(chart, tree, top.cuts, array)
        if levels is not None:
            return Layout(chart, tree, top.cuts, array, levels, control)
    return None


def _array(chart: Chart, top: Bitting, rng: Random) -> tuple[Array, Cuts | None]:
    """The cuts that keys may carry, one held back where the control key needs it; and that key's cuts."""
    full = key_bitting_array(chart.format, top)
    if not chart.has_control or chart.control is not None:
        return full, None
    array = make_room(chart.format, top, rng, full)
    for cuts in chart.fixed.values():
        if any(cut not in (own, *column) for cut, own, column in zip(cuts, top.cuts, array, strict=True)):
            array = full
    return array, propose_control(chart.format, top, rng, array).cuts


def _top(chart: Chart, tree: Tree, rng: Random) -> Bitting | None:
    if tree.top is not None and tree.top in chart.fixed:
        return bitting_of(chart.format, chart.fixed[tree.top])
    cuts = [rng.choice(_top_cuts(chart, tree, place)) for place in range(chart.format.positions)]
    return bitting_of(chart.format, cuts)


def _top_cuts(chart: Chart, tree: Tree, place: int) -> Sequence[int]:
    """What the top may carry: the series of the keys in use, a cut that masters among them share or, best,
    one that no change key has.
    """
    format = chart.format
    used = {key: cuts[place] for key, cuts in chart.fixed.items() if tree.depths[key] is not None}
    series = {cut % format.step for cut in used.values()}
    cuts = [cut for cut in format.depth_values if not series or cut % format.step in series]
    masters = [cut for key, cut in used.items() if key in tree.children]
    if masters:
        return [max(sorted(set(masters)), key=masters.count)]
    return [cut for cut in cuts if cut not in used.values()] or cuts


def _deal(chart: Chart, tree: Tree, top: Cuts, array: Array) -> Cuts | None:
    """A level for each position: those that keys in use tell, then as many for each level as its fan-out
    needs, the rest where it is tightest.
    """
    bounds = [_bounds(chart, tree, top, place) for place in range(len(top))]
    widths = [len(column) for column in array]
    if tree.levels == 0 or any(low > high for low, high in bounds):
        return None
    dealt: list[int | None] = [low if low == high else None for low, high in bounds]
    fan_out = _fan_out(tree)
    for _ in range(dealt.count(None)):
        room = [_room(dealt, widths, level) / fan_out[level] for level in range(1, tree.levels + 1)]
        wanted = sorted(
            range(1, tree.levels + 1),
            key=lambda level: (room[level - 1] >= 1, level if room[level - 1] < 1 else room[level - 1]),
        )
        chosen = next(
            (level, place)
            for level in wanted
            for place, (low, high) in enumerate(bounds)
            if dealt[place] is None and (low <= level <= high or level == wanted[-1])
        )
        dealt[chosen[1]] = chosen[0]
    if any(_room(dealt, widths, level) < fan_out[level] for level in range(1, tree.levels + 1)):
        return None
    return tuple(level or tree.levels for level in dealt)


def _fan_out(tree: Tree) -> dict[int, int]:
    """By level, the most keys that stand right below one key and need words of their own there."""
    found = dict.fromkeys(range(1, tree.levels + 1), 1)
    for children in tree.children.values():
        for level in found:
            own = [key for key in children if tree.depths[key] == level]
            counted = [key for key in own if key in tree.children or level == tree.levels]
            found[level] = max(found[level], len(counted))
    return found


def _room(dealt: Sequence[int | None], widths: Sequence[int], level: int) -> int:
    return (
        prod(width for own, width in zip(dealt, widths, strict=True) if own == level) if level in dealt else 0
    )


def _bounds(chart: Chart, tree: Tree, top: Cuts, place: int) -> tuple[int, int]:
    """The levels that may fix a position: above it masters in use carry the top's cut, from it on others."""
    low, high = 1, tree.levels
    for key, cuts in chart.fixed.items():
        depth = tree.depths[key]
        if depth is None or key not in tree.children:
            continue
        if cuts[place] == top[place]:
            low = max(low, depth + 1)
        elif key != tree.top:
            high = min(high, depth)
    return min(low, tree.levels), high
