"""What the page of a chart says beside its squares."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.charts.models import LockChart
from keyctl.lib.errors import Refused
from keyctl.lib.language import in_english

MOST_SHOWN = 50
REASONS = {
    "kept": gettext_lazy("the bittings that are kept turn it"),
    "certain": gettext_lazy("no bitting keeps it out"),
    "layout": gettext_lazy("in a system laid out by levels"),
}
STAGES = {
    "layout": gettext_lazy("Laying out the masters"),
    "pages": gettext_lazy("Placing the changes below their masters"),
    "masters": gettext_lazy("Holding the masters, everything else free"),
    "everything": gettext_lazy("Searching without a layout"),
}


@dataclass(frozen=True)
class Foreseen:
    """What a chart lets in before it is solved, or why it cannot be solved as it is drawn."""

    pairs: list[Any]
    total: int
    refusals: list[str]


@dataclass(frozen=True)
class Found:
    """What the search for a chart's bittings told, in the reader's language; its row keeps it in English."""

    clash: list[str]
    stage: str


def found_by_solving(chart: LockChart) -> Found:
    clashing = [engine.Requirement(*each) for each in chart.findings.get("clashing", [])]
    # Earlier releases kept the sentences alone.
    clash = [engine.say(each.message) for each in clashing] or chart.findings.get("clash", [])
    stage = (chart.findings.get("reached") or {}).get("stage", "")
    said = {in_english(words): str(words) for words in STAGES.values()}
    return Found(clash, said.get(stage, stage))


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
