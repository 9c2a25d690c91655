"""Times as bars on one axis: a row for each place something was, the last place at the bottom."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from keyctl.lib.drawing.scales import TimeScale
from keyctl.lib.drawing.ticks import Tick, date_ticks

WIDTH, LABELS, RIGHT = 760, 220, 20
TOP, ROW, BAR, AXIS = 12, 34, 20, 36
MARKS = 30
# What lasted minutes in an axis of years is still seen.
LEAST = 3
MOST_ROWS = 14
LONGEST_LABEL = 28


@dataclass(frozen=True)
class Span:
    """``place`` names the row, ``look`` the way its bar is filled; without an end it lasts.

    ``key`` tells rows apart whose places are called alike.
    """

    place: str
    look: str
    begin: datetime
    end: datetime | None = None
    # What a page says of it beside its place.
    note: str = ""
    url: str = ""
    key: str = ""

    @property
    def row(self) -> str:
        return self.key or self.place


@dataclass(frozen=True)
class Happening:
    """Something that took no time: a mark above the rows."""

    at: datetime
    words: str


@dataclass(frozen=True)
class Bar:
    x: int
    y: int
    width: int
    look: str
    span: Span
    height: int = BAR


@dataclass(frozen=True)
class Label:
    y: int
    words: str
    whole: str


@dataclass(frozen=True)
class Timeline:
    bars: list[Bar]
    labels: list[Label]
    marks: list[Tick]
    dates: list[Tick]
    height: int
    # Rows that are not drawn, being older than the others.
    unshown: int = 0
    width: int = WIDTH
    left: int = LABELS
    right: int = WIDTH - RIGHT
    top: int = TOP
    looks: list[str] = field(default_factory=list)

    @property
    def bottom(self) -> int:
        return self.height - AXIS


def draw_spans(spans: Sequence[Span], until: datetime, happenings: Sequence[Happening] = ()) -> Timeline:
    """Rows in the order in which their places were first come to; where they are too many, the last ones."""
    names = {span.row: span.place for span in spans}
    last_seen = {span.row: nth for nth, span in enumerate(spans)}
    kept = set(sorted(names, key=lambda row: last_seen[row])[-MOST_ROWS:])
    shown = [row for row in names if row in kept]
    drawn = [span for span in spans if span.row in kept]
    scale = TimeScale(drawn[0].begin if drawn else until, until, LABELS, WIDTH - RIGHT)
    top = TOP + (MARKS if happenings else 0)
    return Timeline(
        bars=[_bar(span, top + ROW * shown.index(span.row), scale, until) for span in drawn],
        labels=[_label(top + ROW * nth, names[row]) for nth, row in enumerate(shown)],
        marks=[Tick(scale.x(each.at), each.words) for each in happenings if each.at >= scale.first],
        dates=date_ticks(scale),
        height=top + ROW * len(shown) + AXIS,
        unshown=len(names) - len(shown),
        top=top,
        looks=sorted({span.look for span in drawn}),
    )


def _bar(span: Span, y: int, scale: TimeScale, until: datetime) -> Bar:
    left, right = scale.x(span.begin), scale.x(span.end or until)
    left = min(left, scale.right - LEAST)
    return Bar(left, y, max(right - left, LEAST), span.look, span)


def _label(y: int, place: str) -> Label:
    return Label(y + BAR // 2 + 5, _cut(place), place)


def _cut(words: str) -> str:
    return words if len(words) <= LONGEST_LABEL else f"{words[: LONGEST_LABEL - 1]}…"
