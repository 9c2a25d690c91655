"""Lock charts: hierarchies with 15 % of the doors cross-keyed and 10 % of the change keys in use.

The plain way is the whole chart as one set of clauses, every forbidden pair among them, given to the same SAT
solver; CP-SAT gets the same clauses. All three answer the same chart in the same run. Every chart is drawn
from an answer, so that one exists; no solver sees it.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from random import Random
from typing import Any

from pinning.charts import Chart
from pinning.encoding import Model, Pair
from pinning.searching import SOLVER
from pinning.solving import Solution, solve
from pinning.trials import Examiner, Reader, Trial
from tests.bench.report import Report, best_of
from tests.pinning.planted import Size, planted

# (high masters, masters below each, changes below each, with a common door for each master)
SMALL = Size(4, 5, 8)
MIDDLE = Size(10, 5, 8)
LARGE = Size(6, 16, 32, common_doors=False)
LIMIT_S = 120.0


def run(report: Report) -> None:
    _middle(report, "chart", SMALL, wanted=5.0, referee=True)
    _middle(report, "chart", MIDDLE, wanted=20.0, referee=False)
    chart = planted(LARGE, Random(1))
    ours, solution = best_of(3, lambda: _solved(chart))
    report.ratio(
        f"chart {_size(chart)}, against 60 s", ours, 60.0, 1.0, f"{len(solution.pinnings)} cores proved"
    )
    report.ratio(f"chart {_size(chart)}, against 10 s", ours, 10.0, 1.0)


def _middle(report: Report, name: str, size: Size, *, wanted: float, referee: bool) -> None:
    chart = planted(size, Random(1))
    ours, _ = best_of(3, lambda: _solved(chart))
    plain, trial = best_of(1, lambda: _whole(chart))
    assert not Examiner(chart).failures(trial)
    report.ratio(f"{name} {_size(chart)}, all clauses at once", ours, plain, wanted)
    if referee:
        seconds = _by_cp_sat(chart)
        remark = "CP-SAT on the same clauses" + (
            "" if seconds < LIMIT_S else f", stopped after {LIMIT_S:.0f} s"
        )
        report.ratio(f"{name} {_size(chart)}, CP-SAT", ours, seconds, wanted, remark)


def _size(chart: Chart) -> str:
    return f"{len(chart.keys):,} keys x {len(chart.locks):,} locks"


def _solved(chart: Chart) -> Solution:
    solution = solve(chart, LIMIT_S, rng=Random(1))
    assert solution.status == "solved", solution.status
    return solution


def _everything(chart: Chart) -> Model:
    """The chart with every pair that must not turn, or withdraw, ruled out from the start."""
    model = Model(chart)
    for lock in range(len(chart.locks)):
        outside = chart.must_stay_out(lock)
        for key in [*outside, len(chart.keys)] if chart.has_control else outside:
            model.forbid(Pair("turns", key, lock))
        for key in range(len(chart.keys)) if chart.has_control else ():
            model.forbid(Pair("withdraws", key, lock))
    return model


def _whole(chart: Chart) -> Trial:
    from pysat.solvers import Solver

    model = _everything(chart)
    with Solver(name=SOLVER, bootstrap_with=model.clauses.take()) as solver:
        assert solver.solve()
        return Reader(model).read(list(solver.get_model()))


def _by_cp_sat(chart: Chart) -> float:
    """Seconds until CP-SAT has an answer to the same clauses, or gives up."""
    from ortools.sat.python import cp_model

    begun = time.perf_counter()
    model = _everything(chart)
    clauses = model.clauses.take()
    program = cp_model.CpModel()
    literals = [program.new_bool_var("") for _ in range(model.clauses.variables + 1)]
    for clause in clauses:
        program.add_bool_or(_literals(literals, clause))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.max_time_in_seconds = LIMIT_S
    solver.solve(program)
    return time.perf_counter() - begun


def _literals(literals: Sequence[Any], clause: Sequence[int]) -> list[Any]:
    return [literals[name] if name > 0 else literals[-name].negated() for name in clause]
