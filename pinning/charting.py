"""The form `solve` of `python -m pinning`: a lock chart in, bittings and pins or a clash out."""

from typing import Any

from pinning.charts import Chart, parse_chart
from pinning.clashes import Clash, find_clash
from pinning.columns import Pinning, PinStack
from pinning.consequences import consequences
from pinning.errors import Refusals, Refused
from pinning.fields import Fields
from pinning.inputs import format_of
from pinning.solving import Solution, solve

__all__ = ["solve_form"]

LONGEST_S = 3_600
CLASH_SHARE = 0.5  # of the limit, on top of it
MOST_LISTED = 10_000

Answer = dict[str, Any]


def solve_form(source: object) -> Answer:
    refusals = Refusals()
    fields = Fields(source, "input", refusals, ("format", "keys", "locks", "rules", "control", "limit_s"))
    format = format_of(fields)
    limit_s = fields.integer("limit_s", 1, LONGEST_S) if fields.has("limit_s") else 60
    if format is None:
        raise Refused(refusals)
    chart = parse_chart(format, fields)
    if chart is None or len(refusals):
        raise Refused(refusals)
    solution = solve(chart, limit_s)
    clash = None
    if solution.status == "impossible":
        clash = find_clash(chart, limit_s * CLASH_SHARE, solution.ruled_out)
    return _answered(chart, solution, clash)


def _answered(chart: Chart, solution: Solution, clash: Clash | None) -> Answer:
    reached = solution.reached if solution.status == "unknown" else None
    return {
        "status": solution.status,
        "bittings": dict(solution.bittings),
        "control": solution.control,
        "stacks": {lock: _stacks(pinning) for lock, pinning in solution.pinnings.items()},
        "let_in": [list(pair) for pair in solution.let_in],
        "clash": [] if clash is None else _clash(clash),
        "clash_is_minimal": None if clash is None else clash.is_minimal,
        "consequences": [] if solution.status == "solved" else _consequences(chart),
        "reached": None
        if reached is None
        else {
            "stage": reached.stage,
            "rounds": reached.rounds,
            "ruled_out": reached.ruled_out,
            "failing": reached.failing,
        },
    }


def _clash(clash: Clash) -> list[Answer]:
    return [
        {"what": each.what, "key": each.key or None, "lock": each.lock or None, "message": str(each)}
        for each in clash.requirements[:MOST_LISTED]
    ]


def _consequences(chart: Chart) -> list[Answer]:
    return [
        {"key": each.key, "lock": each.lock, "reason": each.reason, "message": str(each)}
        for each in consequences(chart)[:MOST_LISTED]
    ]


def _stacks(pinning: Pinning) -> list[Answer]:
    return [_stack(stack) for stack in pinning.stacks]


def _stack(stack: PinStack) -> Answer:
    return {
        "position": stack.position,
        "bottom": stack.bottom,
        "masters": list(stack.masters),
        "control": stack.control,
        "top": stack.top,
        "total": stack.total,
    }
