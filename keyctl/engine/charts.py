"""Lock charts: what cannot be avoided, solving, and the tree that a solved chart makes."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext_lazy

from keyctl.engine.formats import load_format
from keyctl.engine.refusals import refusing
from pinning.charts import Chart, parse_chart
from pinning.clashes import Requirement, find_clash
from pinning.consequences import Consequence, consequences
from pinning.errors import Refusals
from pinning.errors import Refused as RefusedByPinning
from pinning.fields import Fields
from pinning.inclusion import grow_tree
from pinning.searching import Progress
from pinning.solving import Checkpoint, Solution, solve

__all__ = [
    "ChartTree",
    "Clashing",
    "Requirement",
    "chart_consequences",
    "chart_tree",
    "read_chart",
    "solve_chart",
]

CONSEQUENCES_S = 1.0
CLASH_S = 30.0
MOST_LEVELS_BELOW = 5

WatchChart = Callable[[Progress, Checkpoint], None]


@dataclass(frozen=True)
class Clashing:
    """Requirements that cannot all hold; with `is_minimal` dropping any one of them is enough."""

    requirements: tuple[Requirement, ...]
    is_minimal: bool


@dataclass(frozen=True)
class ChartTree:
    """By key, the key right above it (which opens all it opens) and how many stand above it."""

    parents: dict[str, str | None]
    levels: dict[str, int]

    def lowest(self, opens: list[str]) -> list[str]:
        """The keys of a lock that bring in all the others as the masters above them."""
        above = {self.parents[key] for key in opens}
        return [key for key in opens if key not in above]


@refusing(gettext_lazy("This is no lock chart yet."))
def read_chart(format_id: str, mapping: Mapping[str, Any]) -> Chart:
    refusals = Refusals()
    fields = Fields(mapping, "chart", refusals, ("keys", "locks", "rules", "control"))
    chart = parse_chart(load_format(format_id), fields)
    if chart is None:
        raise RefusedByPinning(refusals)
    return chart


def chart_consequences(chart: Chart) -> list[Consequence]:
    return consequences(chart, CONSEQUENCES_S)


def solve_chart(
    chart: Chart, limit_s: float, kept: Mapping[str, Any], watch: WatchChart
) -> tuple[Solution, Clashing | None]:
    """The answer, and for an impossible chart what clashes. `watch` may keep the checkpoint, or stop."""
    checkpoint = Checkpoint(kept)
    solution = solve(chart, limit_s, lambda progress: watch(progress, checkpoint), checkpoint)
    if solution.status != "impossible":
        return solution, None
    clash = find_clash(chart, CLASH_S, solution.ruled_out)
    return solution, Clashing(clash.requirements, clash.is_minimal)


def chart_tree(chart: Chart) -> ChartTree:
    """Keys below keys that shall open all they open; as deep as a system can be."""
    tree = grow_tree(replace(chart, may=(frozenset(),) * len(chart.locks)), 1)
    lines = [tree.line(key)[::-1][:MOST_LEVELS_BELOW] for key in range(len(chart.keys))]
    return ChartTree(
        {name: chart.keys[line[-1]] if line else None for name, line in zip(chart.keys, lines, strict=True)},
        {name: len(line) for name, line in zip(chart.keys, lines, strict=True)},
    )
