"""Figures month by month as lines that step: from nought, each named at its end with its last value."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from keyctl.lib.drawing.scales import Scale, TimeScale
from keyctl.lib.drawing.ticks import Tick, count_steps, date_ticks, spread
from keyctl.lib.moments import start_of_day
from keyctl.lib.numbers import as_number

WIDTH, HEIGHT = 760, 300
LEFT, RIGHT, TOP, BOTTOM = 68, 168, 20, 40
# So far apart two names at the ends of lines can be read.
NAME_GAP = 18


@dataclass(frozen=True)
class Series:
    """``look`` is the way its line is drawn; a value for each month."""

    look: str
    name: str
    values: Sequence[int]


@dataclass(frozen=True)
class Line:
    look: str
    path: str
    # The end of the line, where its name goes, and what is written there.
    end: int
    name_y: int
    words: str


@dataclass(frozen=True)
class Chart:
    lines: list[Line]
    counts: list[Tick]
    dates: list[Tick]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM


def draw_steps(series: Sequence[Series], months: Sequence[date]) -> Chart:
    """Each value lasts from the first of its month to the first of the next."""
    ends = [*months[1:], (months[-1] + timedelta(days=31)).replace(day=1)]
    across = TimeScale(start_of_day(months[0]), start_of_day(ends[-1]), LEFT, WIDTH - RIGHT)
    steps = count_steps(max((max(each.values) for each in series), default=0))
    upright = Scale(steps[-1], TOP, HEIGHT - BOTTOM)
    sides = [
        (across.x(start_of_day(a)), across.x(start_of_day(b))) for a, b in zip(months, ends, strict=True)
    ]
    tops = [upright.y(each.values[-1]) for each in series]
    names = spread(tops, NAME_GAP, HEIGHT - BOTTOM)
    return Chart(
        lines=[
            Line(each.look, _path(each.values, sides, upright), top, name + 4, _named(each))
            for each, top, name in zip(series, tops, names, strict=True)
        ],
        counts=[Tick(upright.y(count), as_number(count)) for count in steps],
        dates=date_ticks(across),
    )


def _path(values: Sequence[int], sides: Sequence[tuple[int, int]], upright: Scale) -> str:
    parts: list[str] = []
    for value, (left, right) in zip(values, sides, strict=True):
        parts.append(f"{'L' if parts else 'M'}{left} {upright.y(value)}H{right}")
    return "".join(parts)


def _named(series: Series) -> str:
    return f"{series.name} {as_number(series.values[-1])}"
