"""Running a SAT solver on a model of a chart, with forbidden pairs added as trials fail.

SAT and not CP-SAT: on the same chart the same clauses take CP-SAT many times longer (`tests/bench` shows
both), and a SAT solver keeps what it learned when pairs are added.

The solver works in slices of conflicts; between them the clock is read and whoever watches is told.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from random import Random
from time import monotonic
from typing import Any

from pinning.encoding import Model, Pair
from pinning.trials import Examiner, Reader, Trial

__all__ = ["Clock", "Outcome", "Progress", "Search", "Watch"]

SOLVER = "glucose42"
CONFLICTS = 2_000  # in a slice
MOST_PAIRS = 20_000  # added in a round


@dataclass(frozen=True)
class Progress:
    """How far a search is: its stage, rounds of trials, pairs ruled out so far, pairs that failed last."""

    stage: str
    rounds: int
    ruled_out: int
    failing: int


Watch = Callable[[Progress], None]


class Clock:
    """Seconds that are left; `part` gives a stage its share of them."""

    def __init__(self, seconds: float) -> None:
        self._end = monotonic() + seconds

    @property
    def left(self) -> float:
        return self._end - monotonic()

    def part(self, share: float) -> "Clock":
        return Clock(max(self.left, 0) * share)


@dataclass
class Outcome:
    """`solved` with a trial that fails nowhere, `contradicted`, or `out_of_time` with the best trial."""

    status: str
    trial: Trial | None = None
    failing: int | None = None


@dataclass
class Search:
    """One model and its solver. `ruled_out` collects every pair added, for a later search to begin with."""

    model: Model
    stage: str
    clock: Clock
    watch: Watch | None = None
    ruled_out: set[Pair] = field(default_factory=set)
    rounds: int = 0
    best: Outcome = field(default_factory=lambda: Outcome("out_of_time"))

    def run(self, wished: Trial | None = None) -> Outcome:
        from pysat.solvers import Solver

        examiner, reader = Examiner(self.model.chart), Reader(self.model)
        for pair in sorted(self.ruled_out):
            self.model.forbid(pair)
        with Solver(name=SOLVER) as solver:
            if wished is not None:
                solver.set_phases(reader.wishes(wished))
            while True:
                solver.append_formula(self.model.clauses.take())
                answer = self._answer(solver)
                if answer is None:
                    return self.best
                if not answer:
                    return Outcome("contradicted")
                trial = reader.read(answer)
                failing, pairs = examiner.failures(trial)
                if not failing:
                    return Outcome("solved", trial, 0)
                self._rule_out(trial, failing, pairs)
                # Stay near what is almost right; else every round shuffles the whole chart anew.
                solver.set_phases(reader.wishes(trial))

    def _answer(self, solver: Any) -> list[int] | None:
        """The literals that hold, none if the clauses contradict each other, None when time is up."""
        while True:
            if self.watch is not None:
                self.watch(Progress(self.stage, self.rounds, len(self.ruled_out), self.best.failing or 0))
            if self.clock.left <= 0:
                return None
            solver.conf_budget(CONFLICTS)
            # Interruptible, so that other threads (a worker's heartbeat) run meanwhile.
            found = solver.solve_limited(expect_interrupt=True)
            if found is not None:
                return list(solver.get_model()) if found else []

    def _rule_out(self, trial: Trial, failing: int, pairs: list[Pair]) -> None:
        self.rounds += 1
        if self.best.failing is None or failing < self.best.failing:
            self.best = Outcome("out_of_time", trial, failing)
        for pair in some_of(pairs):
            self.model.forbid(pair)
            self.ruled_out.add(pair)


def some_of(pairs: list[Pair]) -> Iterable[Pair]:
    """At most so many as a round adds, the same ones every time."""
    return pairs if len(pairs) <= MOST_PAIRS else Random(len(pairs)).sample(pairs, MOST_PAIRS)  # noqa: S311
