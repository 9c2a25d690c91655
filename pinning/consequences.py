"""What a chart lets in although it should stay out, seen before any search.

Three reasons, told apart:

- `kept`: the key and keys of the lock keep bittings by which it turns. Certain.
- `certain`: the lock's own requirements leave no bitting for the key that keeps it out. A proof.
- `layout`: a key that opens locks below two masters is made below the one whose lock is its own. In a system
  laid out by levels that master shares its upper cuts with the key and its lower ones with the masters above,
  so where these two open a lock, it does. Another way of cutting may avoid it, at the price of the levels.

Who accepts a pair adds the key to the lock's `may`; the search for a layout then counts on it.

>>> from pinning.formats import load
>>> opens = ((0, 1, 2), (0, 1, 3, 5), (0, 4, 5), (0, 4, 6), (0, 4, 7))
>>> chart = Chart(load("fixed-6"), tuple("TMabNcde"), tuple("12345"), opens, (frozenset(),) * 5)
>>> [str(each) for each in consequences(chart)]
["key 'N' opens lock '2': key 'c' opens it too, and is made below 'N'"]
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pinning.charts import Chart
from pinning.clashes import Requirement, contradicts
from pinning.inclusion import Tree, best_tree
from pinning.searching import Clock
from pinning.trials import matching

__all__ = ["Consequence", "accepted", "consequences"]

MOST_CHECKED = 200
LONGEST_CHECK_S = 0.5


@dataclass(frozen=True)
class Consequence:
    """Key `key` opens lock `lock`; `by` names the keys through which."""

    reason: str  # kept, certain, layout
    key: str
    lock: str
    by: tuple[str, ...]

    def __str__(self) -> str:
        why = {
            "kept": "by the bittings that are kept",
            "certain": "no bitting keeps it out of the lock's other keys",
            "layout": f"key {', '.join(map(repr, self.by))} opens it too, and is made below {self.key!r}",
        }
        return f"key {self.key!r} opens lock {self.lock!r}: {why[self.reason]}"


def consequences(chart: Chart, limit_s: float = 5) -> list[Consequence]:
    """In the locks' order, each pair once, for the first reason that holds."""
    clock = Clock(limit_s)
    found: dict[tuple[int, int], tuple[str, tuple[int, ...]]] = {}
    for key, lock in _kept(chart):
        found[lock, key] = ("kept", ())
    for number, (key, lock, by) in enumerate(sorted(set(_by_layout(chart)))):
        certain = number < MOST_CHECKED and _is_certain(chart, key, lock, clock)
        found.setdefault((lock, key), ("certain" if certain else "layout", (by,)))
    return [
        Consequence(reason, chart.keys[key], chart.locks[lock], tuple(chart.keys[each] for each in by))
        for (lock, key), (reason, by) in sorted(found.items())
    ]


def accepted(chart: Chart, pairs: Sequence[Consequence]) -> Chart:
    """The chart in which these pairs do not matter."""
    keys = {name: number for number, name in enumerate(chart.keys)}
    more: dict[str, set[int]] = {}
    for pair in pairs:
        more.setdefault(pair.lock, set()).add(keys[pair.key])
    may = [may | more.get(lock, set()) for lock, may in zip(chart.locks, chart.may, strict=True)]
    return replace(chart, may=tuple(map(frozenset, may)))


def _kept(chart: Chart) -> Iterator[tuple[int, int]]:
    """Pairs of key and lock that turn by cuts that are kept, whatever the others get."""
    keys = sorted(chart.fixed)
    if not keys:
        return
    depths = list(chart.format.depth_values)
    places = np.array([[depths.index(cut) for cut in chart.fixed[key]] for key in keys])
    numbers = {key: number for number, key in enumerate(keys)}
    clear = np.zeros((places.shape[1], len(chart.locks), len(depths)), dtype=np.bool_)
    for lock, opens in enumerate(chart.opens):
        for key in opens:
            if key in numbers:
                clear[np.arange(len(clear)), lock, places[numbers[key]]] = True
    turning = np.unpackbits(matching(clear, places), axis=1)[:, : len(keys)]
    for lock, number in zip(*np.nonzero(turning), strict=True):
        key = keys[number]
        if key not in chart.opens[lock] and key not in chart.may[lock]:
            yield key, int(lock)


def _by_layout(chart: Chart) -> Iterator[tuple[int, int, int]]:
    """(master, lock, key): the key opens the lock and is made below the master, which should stay out."""
    tree, locks_of = best_tree(chart), chart.locks_of()
    opens = list(map(frozenset, chart.opens))
    let_in = [keys | may for keys, may in zip(opens, chart.may, strict=True)]
    masters = [[key for key in keys if key in tree.children] for keys in chart.opens]
    changes = [keys - {*above, tree.top} for keys, above in zip(opens, masters, strict=True)]
    for key, locks in enumerate(locks_of):
        if key in tree.children or key == tree.top:
            continue
        home = _home(tree, key, [(masters[lock], changes[lock]) for lock in locks])
        for master in [] if home is None else [home, *tree.line(home)]:
            above = set(tree.line(master))
            for lock in locks:
                if master not in let_in[lock] and not above.isdisjoint(opens[lock]):
                    yield master, lock, key


def _home(tree: Tree, key: int, locks: Sequence[tuple[list[int], frozenset[int]]]) -> int | None:
    """The lowest master over the locks that no other change key opens; None if there is none.

    Of each lock the masters and the change keys that open it.
    """
    for masters, changes in locks:
        if masters and changes <= {key}:
            return max(masters, key=lambda master: (tree.depths[master] or 0, master))
    return None


def _is_certain(chart: Chart, key: int, lock: int, clock: Clock) -> bool:
    name = chart.locks[lock]
    asked = [Requirement("opens", chart.keys[other], name) for other in chart.opens[lock]]
    kept = [
        Requirement("bitting", chart.keys[other])
        for other in (*chart.opens[lock], key)
        if other in chart.fixed
    ]
    own = Clock(min(clock.left, LONGEST_CHECK_S))
    return bool(contradicts(chart, [*asked, *kept, Requirement("out", chart.keys[key], name)], own))
