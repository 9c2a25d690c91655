"""Solving a lock chart: bittings for all its keys and pins for all its locks, or why there are none.

A lock with more keys than its pins can tell apart is found by counting. Then is tried, in order, each part
with its share of the time:

1. `pages`: the masters laid out by levels, the changes searched for in their page.
2. `masters`: the masters as found, every other key free.
3. `everything`: no layout at all. Only here a contradiction proves that the chart has no answer.

Every search begins with the pairs that the ones before it had to rule out. An answer is never taken from a
search: all pins are worked out anew by `pin`, every key is tried against every core, and what turns or
withdraws against the chart makes the answer `unknown`.

Sources: that charts in general are NP-hard, and that diagonal ones are not: doi 10.1007/s001860000084,
10.1137/15M1030054, hdl 10467/73582.

>>> from pinning.formats import load
>>> opens = ((0, 1), (0, 2), (0, 1, 2))
>>> chart = Chart(load("fixed-6"), ("M", "A", "B"), ("1", "2", "3"), opens, (frozenset(),) * 3)
>>> solution = solve(chart)
>>> solution.status, sorted(solution.bittings), len(solution.pinnings)
('solved', ['A', 'B', 'M'], 3)
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from random import Random, SystemRandom
from typing import Any

import numpy as np

from pinning.audit import prove
from pinning.bittings import Bitting, bitting_of
from pinning.charts import Chart
from pinning.columns import Pinning
from pinning.crowding import crowded_lock
from pinning.encoding import Model, Pair
from pinning.errors import Refused
from pinning.inclusion import Tree, trees
from pinning.progression import is_within_limit
from pinning.searching import Clock, Outcome, Progress, Search, Watch
from pinning.skeleton import Layout, lay_out
from pinning.stacks import pin
from pinning.trials import Trial, at_random

__all__ = ["Checkpoint", "Solution", "solve"]

DRAWS = 3  # of a layout, for each tree
# Shares of the time that is left for each stage but the last.
FOR_PAGES, FOR_MASTERS = 0.6, 0.4


@dataclass(frozen=True)
class Solution:
    """`let_in` holds pairs of key and lock that turn although they need not. Where the chart is impossible,
    `ruled_out` are the pairs by which it was proved; where unknown, `reached` is how far the search came.
    """

    status: str  # solved, impossible, unknown
    bittings: Mapping[str, str] = field(default_factory=dict, repr=False)
    control: str | None = field(default=None, repr=False)
    pinnings: Mapping[str, Pinning] = field(default_factory=dict, repr=False)
    let_in: tuple[tuple[str, str], ...] = ()
    ruled_out: frozenset[Pair] = frozenset()
    reached: Progress | None = None


class Checkpoint:
    """What a stopped search leaves to the next: pairs to rule out from the start, and the trial that came
    nearest.

    `to_mapping` is ready for JSON. It holds bittings.
    """

    def __init__(self, kept: Mapping[str, Any] | None = None) -> None:
        kept = kept or {}
        self.ruled_out = {Pair(what, one, other) for what, one, other in kept.get("ruled_out", [])}
        self.trial: list[list[int]] = kept.get("trial", [])

    def to_mapping(self) -> dict[str, Any]:
        return {"ruled_out": [list(pair) for pair in sorted(self.ruled_out)], "trial": self.trial}


def solve(
    chart: Chart,
    limit_s: float = 60,
    watch: Watch | None = None,
    checkpoint: Checkpoint | None = None,
    rng: Random | None = None,
) -> Solution:
    """The answer within about `limit_s` seconds. `watch` is called every so often and may raise to stop;
    `checkpoint` is filled as the search goes and takes a later one on from there. `rng` is for tests: keys
    that are cut come from the operating system's source of chance.
    """
    if crowded_lock(chart) is not None:
        return Solution("impossible")
    return _Ladder(chart, Clock(limit_s), watch, checkpoint or Checkpoint(), rng or SystemRandom()).climb()


@dataclass
class _Ladder:
    chart: Chart
    clock: Clock
    watch: Watch | None
    checkpoint: Checkpoint
    rng: Random
    reached: Progress | None = None

    def climb(self) -> Solution:
        masters: dict[int, tuple[int, ...]] = {}
        clock = self.clock.part(FOR_PAGES)
        for layout in self._layouts():
            found = self._masters(layout, clock)
            if found is None:
                continue
            masters = found
            outcome = self._changes(layout, masters, clock)
            if outcome.status != "contradicted":
                break
        else:
            outcome = Outcome("out_of_time")
        if outcome.status != "solved" and masters:
            held = self._holding(masters)
            outcome = self._search(Model(held), "masters", self.clock.part(FOR_MASTERS), self._last(held))
        if outcome.status != "solved":
            outcome = self._search(Model(self.chart), "everything", self.clock, self._last(self.chart))
        return self._concluded(outcome)

    def _layouts(self) -> Iterable[Layout]:
        for tree in trees(self.chart):
            for _ in range(DRAWS if tree.levels else 0):
                layout = lay_out(self.chart, tree, self.rng)
                if layout is not None:
                    yield layout

    def _masters(self, layout: Layout, clock: Clock) -> dict[int, tuple[int, ...]] | None:
        """The masters' cuts, each other key left out of the chart; None if the layout has no room."""
        keys = layout.tree.masters
        part = _with_parents(self.chart, layout.tree).part(keys, range(len(self.chart.locks)))
        search = Search(Model(part, layout.frame(keys)), "layout", clock.part(0.5), self._watch)
        outcome = search.run(at_random(part, self.rng))
        if outcome.status != "solved" or outcome.trial is None:
            return None
        return dict(zip(keys, outcome.trial.cuts(part), strict=False))

    def _changes(self, layout: Layout, masters: dict[int, tuple[int, ...]], clock: Clock) -> Outcome:
        held = self._holding(masters)
        frame = layout.frame(range(len(self.chart.keys)), masters)
        return self._search(Model(held, frame), "pages", clock, layout.wished(held, masters, self.rng))

    def _holding(self, masters: dict[int, tuple[int, ...]]) -> Chart:
        return replace(self.chart, fixed={**masters, **self.chart.fixed})

    def _search(self, model: Model, stage: str, clock: Clock, wished: Trial) -> Outcome:
        search = Search(model, stage, clock, self._watch, self.checkpoint.ruled_out)
        outcome = search.run(wished)
        if outcome.trial is not None:
            self.checkpoint.trial = outcome.trial.places.tolist()
        return outcome

    def _last(self, chart: Chart) -> Trial:
        """Where to begin: near what was left of the search before, if there was one."""
        trial = at_random(chart, self.rng)
        kept = np.array(self.checkpoint.trial, dtype=np.int64)
        return Trial(kept) if kept.shape == trial.places.shape else trial

    def _watch(self, progress: Progress) -> None:
        self.reached = progress
        if self.watch is not None:
            self.watch(progress)

    def _concluded(self, outcome: Outcome) -> Solution:
        if outcome.status == "contradicted":
            return Solution(
                "impossible", ruled_out=frozenset(self.checkpoint.ruled_out), reached=self.reached
            )
        if outcome.status != "solved" or outcome.trial is None:
            return Solution("unknown", reached=self.reached)
        return proven(self.chart, outcome.trial.cuts(self.chart)) or Solution("unknown", reached=self.reached)


def _with_parents(chart: Chart, tree: Tree) -> Chart:
    """With every key that opens a lock, the master right above it does: it shares all the upper cuts."""
    opens = [
        tuple(sorted({*opens, *(parent for key in opens if (parent := tree.parents[key]) is not None)}))
        for opens in chart.opens
    ]
    return replace(chart, opens=tuple(opens))


def proven(chart: Chart, cuts: list[tuple[int, ...]]) -> Solution | None:
    """The answer with pins for every lock, after all keys were tried in all cores; None if it is wrong."""
    keys = [bitting_of(chart.format, own) for own in cuts]
    control = keys.pop() if chart.has_control else None
    if not _keeps_to(chart, keys, control):
        return None
    try:
        pinnings = {
            lock: pin(chart.format, [keys[key] for key in opens], control)
            for lock, opens in enumerate(chart.opens)
        }
    except Refused:
        return None
    let_in = _let_in(chart, pinnings, keys, control)
    if let_in is None:
        return None
    return Solution(
        "solved",
        {name: key.text for name, key in zip(chart.keys, keys, strict=True)},
        None if control is None else control.text,
        {chart.locks[lock]: pinning for lock, pinning in pinnings.items()},
        tuple((chart.keys[key], chart.locks[lock]) for key, lock in sorted(let_in)),
    )


def _let_in(
    chart: Chart, pinnings: dict[int, Pinning], keys: list[Bitting], control: Bitting | None
) -> list[tuple[int, int]] | None:
    """Pairs that turn without having to; None if one turns, fails to, or withdraws against the chart."""
    tried = dict(enumerate(keys)) | ({} if control is None else {len(keys): control})
    missing = {(key, lock) for lock, opens in enumerate(chart.opens) for key in opens}
    uncontrolled = set(pinnings) if control is not None else set()
    let_in = []
    for proof in prove(pinnings, tried):
        is_control = proof.key == len(keys)
        if proof.withdraws != is_control or proof.operates == is_control:
            return None
        if is_control:
            uncontrolled.remove(proof.core)
        elif (proof.key, proof.core) in missing:
            missing.remove((proof.key, proof.core))
        elif proof.key in chart.may[proof.core]:
            let_in.append((proof.key, proof.core))
        else:
            return None
    return None if missing or uncontrolled else let_in


def _keeps_to(chart: Chart, keys: list[Bitting], control: Bitting | None) -> bool:
    """What pins alone do not tell: bittings kept, and the rules on keys."""
    if any(keys[key].cuts != cuts for key, cuts in chart.fixed.items()):
        return False
    if chart.control is not None and (control is None or control.cuts != chart.control):
        return False
    if chart.rules.distinct and len({key.cuts for key in keys}) < len(keys):
        return False
    made = [key.cuts for number, key in enumerate(keys) if number not in chart.fixed]
    return all(is_within_limit(chart.format, cuts) and keeps_rules(chart, cuts) for cuts in made)


def keeps_rules(chart: Chart, cuts: tuple[int, ...]) -> bool:
    """Whether a bitting keeps to the shop's further rules."""
    rules = chart.rules.keys
    runs, last = [0], None
    for cut in cuts:
        runs.append(runs[-1] + 1 if cut == last else 1)
        last = cut
    return (
        (chart.macs is None or all(abs(b - a) <= chart.macs for a, b in pairwise(cuts)))
        and (rules.max_equal is None or max(map(cuts.count, cuts)) <= rules.max_equal)
        and (rules.max_run is None or max(runs) <= rules.max_run)
        and len(set(cuts)) >= rules.min_distinct
        and max(cuts) - min(cuts) >= rules.min_span
    )
