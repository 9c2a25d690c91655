"""What the page of a chart says beside its squares."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.charts.models import LockChart
from keyctl.lib.errors import Refused

MOST_SHOWN = 50
REASONS = {
    "kept": gettext_lazy("the bittings that are kept turn it"),
    "certain": gettext_lazy("no bitting keeps it out"),
    "layout": gettext_lazy("in a system laid out by levels"),
}


@dataclass(frozen=True)
class Foreseen:
    """What a chart lets in before it is solved, or why it cannot be solved as it is drawn."""

    pairs: list[Any]
    total: int
    refusals: list[str]


def foreseen(chart: LockChart, kept: dict[str, Any]) -> Foreseen:
    try:
        read = engine.read_chart(chart.format_id, chart.mapping(kept))
    except Refused as refused:
        return Foreseen([], 0, list(refused.sentences)[:MOST_SHOWN])
    pairs = engine.chart_consequences(read)
    shown = [
        {"key": pair.key, "lock": pair.lock, "reason": REASONS[pair.reason], "by": ", ".join(pair.by)}
        for pair in pairs[:MOST_SHOWN]
    ]
    return Foreseen(shown, len(pairs), [])
