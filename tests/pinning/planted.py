"""Lock charts that are sure to have an answer, because they are drawn from one: a hierarchy of keys is cut at
random, and whatever then turns in a lock stands in the chart."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from random import Random

import numpy as np

from pinning.charts import Chart, ChartRules
from pinning.formats import CoreFormat, load
from pinning.rules import Rules

Word = tuple[int, ...]
# Positions, from 0, that the keys of each level fix: the highest masters, masters, changes.
LEVELS = ((0, 1), (2, 3), (4, 5, 6))


@dataclass(frozen=True)
class Size:
    """``high`` masters below the top, each with ``masters``, each with ``changes`` and their doors."""

    high: int
    masters: int
    changes: int
    common_doors: bool = True


def planted(size: Size, rng: Random, crossed: float = 0.15, legacy: float = 0.10) -> Chart:
    """A chart of the reference estate: seven positions, two-step, a share of the doors cross-keyed with a
    second change key, and a share of the change keys in use already, with the masters above them."""
    format = load("small-a2-7")
    cuts, above = _tree(format, size, rng)
    changes = [key for key, line in enumerate(above) if len(line) == 3]
    doors = [{key, *above[key]} for key in changes]
    for door in rng.sample(range(len(doors)), int(len(doors) * crossed)):
        doors[door].add(rng.choice(changes))
    if size.common_doors:
        doors += [
            {key for key in changes if above[key][0] == master} | {0, above_master, master}
            for master, above_master in {above[key][:2] for key in changes}
        ]
    kept = rng.sample(changes, int(len(changes) * legacy))
    fixed = {key: cuts[key] for change in kept for key in (change, *above[change])}
    return _as_it_turns(format, cuts, doors, fixed)


def _tree(format: CoreFormat, size: Size, rng: Random) -> tuple[list[Word], list[tuple[int, ...]]]:
    """The keys' cuts, and of each the keys above it, nearest first."""
    top = tuple(rng.choice(format.depth_values) for _ in range(format.positions))
    array = [[cut for cut in format.depth_values if cut != own and (cut - own) % 2 == 0] for own in top]
    cuts: list[Word] = [top]
    above: list[tuple[int, ...]] = [()]
    for high_word in _words(array, LEVELS[0], size.high, rng):
        high = _add(cuts, above, _with(top, LEVELS[0], high_word), (0,))
        for word in _words(array, LEVELS[1], size.masters, rng):
            master = _add(cuts, above, _with(cuts[high], LEVELS[1], word), (high, 0))
            narrow = [rng.sample(column, 2) for column in array] if size.common_doors else array
            for change in _words(narrow, LEVELS[2], size.changes, rng):
                _add(cuts, above, _with(cuts[master], LEVELS[2], change), (master, high, 0))
    return cuts, above


def _words(array: list[list[int]], places: tuple[int, ...], count: int, rng: Random) -> list[Word]:
    return rng.sample(list(product(*(array[place] for place in places))), count)


def _with(cuts: Word, places: tuple[int, ...], word: Word) -> Word:
    changed = list(cuts)
    for place, cut in zip(places, word, strict=True):
        changed[place] = cut
    return tuple(changed)


def _add(cuts: list[Word], above: list[tuple[int, ...]], own: Word, line: tuple[int, ...]) -> int:
    cuts.append(own)
    above.append(line)
    return len(cuts) - 1


def _as_it_turns(
    format: CoreFormat, cuts: list[Word], doors: list[set[int]], fixed: dict[int, Word]
) -> Chart:
    keys = np.array(cuts)
    opens = []
    for door in doors:
        held = keys[sorted(door)]
        turning = np.ones(len(cuts), dtype=bool)
        for place in range(format.positions):
            turning &= np.isin(keys[:, place], held[:, place])
        opens.append(tuple(np.nonzero(turning)[0].tolist()))
    return Chart(
        format,
        tuple(f"K{number}" for number in range(len(cuts))),
        tuple(f"D{number}" for number in range(len(doors))),
        tuple(opens),
        (frozenset(),) * len(doors),
        fixed,
        ChartRules(max_cuts=3, keys=Rules()),
    )
