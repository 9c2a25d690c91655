"""A lock with more keys than its pins can tell apart: impossible by counting, before any search.

The keys of a lock lie in its box: per position at most `max_cuts` depths, of one series. Keys must differ if
no two may be alike, or if one shall open a lock that the other must not. A SAT solver sees that only after
all ways of dealing them out, which is never.

>>> from pinning.charts import ChartRules
>>> from pinning.formats import load
>>> rules = ChartRules(max_cuts=1, distinct=True)
>>> chart = Chart(load("fixed-6"), ("A", "B"), ("1",), ((0, 1),), (frozenset(),), rules=rules)
>>> crowded_lock(chart)
(0, [0, 1])
"""

from collections import Counter
from math import prod

from pinning.charts import Chart

__all__ = ["crowded_lock"]


def crowded_lock(chart: Chart) -> tuple[int, list[int]] | None:
    """A lock and one more of its keys than fit, all of which must differ; None where every lock has room."""
    room = _room(chart)
    crowds = [(lock, opens) for lock, opens in enumerate(chart.opens) if len(opens) > room]
    locks_of = chart.locks_of() if crowds else []
    free = {key for may in chart.may for key in may} if crowds else set()
    for lock, opens in crowds:
        found = list(opens) if chart.rules.distinct else _different(opens, locks_of, free)
        if len(found) > room:
            return lock, found[: room + 1]
    return None


def _room(chart: Chart) -> int:
    format, most = chart.format, chart.rules.max_cuts
    series = max(Counter(cut % format.step for cut in format.depth_values).values())
    return prod(min(series, series if most is None else most) for _ in range(format.positions))


def _different(opens: tuple[int, ...], locks_of: list[list[int]], free: set[int]) -> list[int]:
    """Keys of a lock of which no two can be cut alike: one for each set of locks that they open."""
    return sorted({tuple(locks_of[key]): key for key in opens if key not in free}.values())
