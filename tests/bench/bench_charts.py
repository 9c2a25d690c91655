"""Lock charts: hierarchies with 15 % of the doors cross-keyed and 10 % of the change keys in use.

The plain way is the whole chart as one set of clauses, every forbidden pair among them, given to the SAT
solver that is best at that; CP-SAT gets the same clauses. All three answer the same chart in the same run.
Every chart is drawn from an answer, so that one exists; no solver sees it.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

from pinning.charts import Chart
from pinning.encoding import Model, Pair
from pinning.solving import Solution, solve
from pinning.trials import Examiner, Reader, Trial
from tests.bench.report import MOST_MIB, Report, best_of, drawn, peak_memory_mib, sized
from tests.pinning.planted import Size, planted

# (high masters, masters below each, changes below each, with a common door for each master)
SMALL = Size(sized(4, 2), 5, 8)
MIDDLE = Size(sized(10, 4), 5, 8)
LARGE = Size(sized(6, 2), 16, sized(32, 8), common_doors=False)
LIMIT_S = 60.0
PLAIN_SOLVER = "cadical153"  # the quickest of those at hand for all the clauses at once


def run(report: Report) -> None:
    large, middle, small = (planted(size, drawn()) for size in (LARGE, MIDDLE, SMALL))
    ours, solution = best_of(2, lambda: _solved(large))
    cores = f"{len(solution.pinnings):,} cores proved"
    report.at_most(f"chart {_size(large)}", ours, 60.0, remark=cores)
    report.at_most(f"chart {_size(large)}, as was hoped for", ours, 10.0)
    report.at_most("peak memory of the largest chart", peak_memory_mib(), MOST_MIB, "MiB")
    _against_all_at_once(report, small, wanted=5.0)
    _against_all_at_once(report, middle, wanted=20.0)
    _against_cp_sat(report, small, wanted=5.0)


def _against_all_at_once(report: Report, chart: Chart, wanted: float) -> None:
    ours, _ = best_of(3, lambda: _solved(chart))
    plain, trial = best_of(1, lambda: _whole(chart))
    assert Examiner(chart).failures(trial) == (0, [])
    report.ratio(f"chart {_size(chart)}, all clauses at once", ours, plain, wanted)


def _against_cp_sat(report: Report, chart: Chart, wanted: float) -> None:
    ours, _ = best_of(3, lambda: _solved(chart))
    seconds, ended = _by_cp_sat(chart)
    remark = "CP-SAT on the same clauses" + ("" if ended else ", stopped without an answer")
    report.ratio(f"chart {_size(chart)}, CP-SAT", ours, seconds, wanted, remark)


def _size(chart: Chart) -> str:
    return f"{len(chart.keys):,} keys x {len(chart.locks):,} locks"


def _solved(chart: Chart) -> Solution:
    solution = solve(chart, LIMIT_S, rng=drawn())
    assert solution.status == "solved", solution.status
    return solution


def _everything(chart: Chart) -> Model:
    """The chart with every pair that must not turn, or withdraw, ruled out from the start."""
    model = Model(chart)
    for lock in range(len(chart.locks)):
        outside = chart.must_stay_out(lock)
        for key in [*outside, len(chart.keys)] if chart.has_control else outside:
            model.forbid(Pair("turns", key, lock))
    # Under a sleeve thicker than the depths reach only the control key's own cuts withdraw, in any lock.
    alike = all(column.is_sleeve and not column.lifted for column in model.columns)
    for lock in range(1 if alike else len(chart.locks)):
        for key in range(len(chart.keys)) if chart.has_control else ():
            model.forbid(Pair("withdraws", key, lock))
    return model


def _whole(chart: Chart) -> Trial:
    from pysat.solvers import Solver

    model = _everything(chart)
    with Solver(name=PLAIN_SOLVER, bootstrap_with=model.clauses.take()) as solver:
        assert solver.solve()
        return Reader(model).read(list(solver.get_model()))


def _by_cp_sat(chart: Chart) -> tuple[float, bool]:
    """Seconds until CP-SAT is through with the same clauses, and whether it has an answer."""
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
    found = solver.solve(program)
    return time.perf_counter() - begun, found in (cp_model.OPTIMAL, cp_model.FEASIBLE)


def _literals(literals: Sequence[Any], clause: Sequence[int]) -> list[Any]:
    return [literals[name] if name > 0 else literals[-name].negated() for name in clause]
