"""The capacity plot as shapes: change keys in use over time, the room there is, and where the pace leads.

Whole pixels, ready for a template. The line so far is solid, the one to come dashed, the room a hatched edge;
the page gives the same figures in words.
"""

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from keyctl.lib.drawing.scales import Scale, TimeScale
from keyctl.lib.drawing.ticks import Tick
from keyctl.lib.moments import start_of_day
from keyctl.lib.numbers import as_number
from keyctl.systems.capacity import DAYS_A_MONTH, Pace

WIDTH, HEIGHT = 720, 320
LEFT, RIGHT, TOP, BOTTOM = 64, 16, 24, 40
MONTHS_BACK = 24
MONTHS_AHEAD = 24
MOST_MONTHS_AHEAD = 120
GRID_LINES = 4


@dataclass(frozen=True)
class Plot:
    """Points are written as SVG wants them: "x,y x,y"."""

    past: str
    to_come: str
    today: int
    room: int | None
    runs_out: tuple[int, int] | None
    counts: list[Tick]
    dates: list[Tick]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM


class _Axes:
    """From days and keys to pixels."""

    def __init__(self, first: date, last: date, most: int) -> None:
        self.keys = Scale(most, TOP, HEIGHT - BOTTOM)
        self.days = TimeScale(start_of_day(first), start_of_day(last), LEFT, WIDTH - RIGHT)

    def x(self, day: date) -> int:
        return self.days.x(start_of_day(day))

    def point(self, day: date, keys: float) -> str:
        return f"{self.x(day)},{self.keys.y(keys)}"


def plot_capacity(pace: Pace, today: date) -> Plot:
    """The last two years, and as far ahead as the pace takes to fill the room, two to ten years."""
    first = today - timedelta(days=round(MONTHS_BACK * DAYS_A_MONTH))
    last = _end(pace, today)
    ahead = pace.in_use + pace.a_month * (last - today).days / DAYS_A_MONTH
    reached = ahead if pace.room is None else min(ahead, pace.room)
    most = _rounded_up(max(reached, pace.in_use, _visible_room(pace, reached)))
    axes = _Axes(first, last, most)
    filled = pace.runs_out is not None and pace.runs_out <= last
    end = pace.runs_out if filled and pace.runs_out else last
    return Plot(
        past=" ".join(_steps(pace, first, today, axes)),
        to_come=f"{axes.point(today, pace.in_use)} {axes.point(end, reached)}",
        today=axes.x(today),
        room=axes.keys.y(pace.room) if pace.room is not None and pace.room <= most else None,
        runs_out=(axes.x(end), axes.keys.y(reached)) if filled else None,
        counts=[Tick(axes.keys.y(keys), as_number(keys)) for keys in _grid(most)],
        dates=list(_months(first, last, axes)),
    )


def _end(pace: Pace, today: date) -> date:
    least, most = (today + timedelta(days=round(m * DAYS_A_MONTH)) for m in (MONTHS_AHEAD, MOST_MONTHS_AHEAD))
    if pace.runs_out is None:
        return least
    return min(max(least, pace.runs_out + timedelta(days=60)), most)


def _visible_room(pace: Pace, reached: float) -> float:
    """The room is drawn where the line comes within reach of it; else it would press the line flat."""
    return pace.room if pace.room is not None and pace.room <= 4 * max(reached, 1) else 0


def _steps(pace: Pace, first: date, today: date, axes: _Axes) -> Iterator[str]:
    """The keys in use at the end of each month, and today."""
    for month in range(MONTHS_BACK + 1):
        day = min(first + timedelta(days=round(month * DAYS_A_MONTH)), today)
        yield axes.point(day, bisect_right(pace.issued, day))


def _rounded_up(keys: float) -> int:
    """The next number that four grid lines share well."""
    step = 1
    while step * GRID_LINES < keys:
        step = step * 2 if str(step)[0] in "15" else step * 5 // 2
    return step * GRID_LINES


def _grid(most: int) -> range:
    return range(0, most + 1, most // GRID_LINES)


def _months(first: date, last: date, axes: _Axes) -> Iterator[Tick]:
    """The turns of the years."""
    for year in range(first.year + 1, last.year + 1):
        yield Tick(axes.x(date(year, 1, 1)), str(year))
