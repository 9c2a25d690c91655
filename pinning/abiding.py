"""Whether bittings keep to a shop's rules: one, many at once, and cut by cut while it is being built.

>>> from pinning.rules import Rules
>>> keeps(Rules(macs=7, max_run=2), (3, 3, 1, 4)), keeps(Rules(max_run=2), (3, 3, 3, 4))
(True, False)
"""

from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, NamedTuple

from pinning.rules import Rules

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["BEGUN", "So", "go_on", "is_finished", "keeps", "kept_rows"]


def keeps(rules: Rules, cuts: Sequence[int]) -> bool:
    """Whether a whole bitting of one cut at least keeps to every rule."""
    if rules.macs is not None and any(abs(a - b) > rules.macs for a, b in pairwise(cuts)):
        return False
    if rules.max_run is not None and any(len(list(run)) > rules.max_run for _, run in groupby(cuts)):
        return False
    if rules.max_equal is not None and max(map(cuts.count, cuts)) > rules.max_equal:
        return False
    return len(set(cuts)) >= rules.min_distinct and max(cuts) - min(cuts) >= rules.min_span


class So(NamedTuple):
    """What must be known of the cuts so far: the last, the length of its run, and the depths used.

    Only what a rule asks for is kept, so that as many beginnings as can be are alike.
    """

    last: int | None = None
    run: int = 0
    used: tuple[tuple[int, int], ...] = ()  # (depth, how often), in order


BEGUN = So()


def go_on(rules: Rules, so: So, cut: int) -> So | None:
    """What is known after one more cut; None if a rule forbids it."""
    run = so.run + 1 if cut == so.last else 1
    if so.last is not None and rules.macs is not None and abs(cut - so.last) > rules.macs:
        return None
    if rules.max_run is not None and run > rules.max_run:
        return None
    used = _used(rules, so, cut)
    if rules.max_equal is not None and dict(used)[cut] > rules.max_equal:
        return None
    asks_last = rules.macs is not None or rules.max_run is not None
    return So(cut if asks_last else None, run if rules.max_run is not None else 0, used)


def _used(rules: Rules, so: So, cut: int) -> tuple[tuple[int, int], ...]:
    if rules.max_equal is None and rules.min_distinct <= 1 and rules.min_span <= 0:
        return ()
    counts = dict(so.used)
    counts[cut] = counts.get(cut, 0) + 1 if rules.max_equal is not None else 1
    return tuple(sorted(counts.items()))


def is_finished(rules: Rules, so: So) -> bool:
    """Whether a whole bitting may end so."""
    if not so.used:
        return rules.min_distinct <= 1 and rules.min_span <= 0
    span = so.used[-1][0] - so.used[0][0]
    return len(so.used) >= rules.min_distinct and span >= rules.min_span


def kept_rows(rows: "NDArray[np.intp]", rules: Rules) -> "NDArray[np.bool_]":
    """By row of cuts (bittings x positions, one position at least), whether it keeps to every rule."""
    import numpy as np

    kept = np.ones(len(rows), bool)
    if rules.macs is not None:
        kept &= (np.abs(np.diff(rows, axis=1)) <= rules.macs).all(axis=1)
    if rules.max_run is not None and rules.max_run < rows.shape[1]:
        same = np.diff(rows, axis=1) == 0
        runs = np.lib.stride_tricks.sliding_window_view(same, rules.max_run, axis=1).all(axis=-1)
        kept &= ~runs.any(axis=-1)
    ordered = np.sort(rows, axis=1)
    if rules.max_equal is not None and rules.max_equal < rows.shape[1]:
        kept &= (ordered[:, rules.max_equal :] != ordered[:, : -rules.max_equal]).all(axis=1)
    distinct = 1 + (np.diff(ordered, axis=1) != 0).sum(axis=1)
    kept &= distinct >= rules.min_distinct
    kept &= ordered[:, -1] - ordered[:, 0] >= rules.min_span
    return kept
