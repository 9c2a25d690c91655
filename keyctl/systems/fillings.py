"""The groups of a system as rows on one axis of time: a frame is the room, what is filled is in use."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from keyctl.lib.drawing.scales import Scale, TimeScale
from keyctl.lib.drawing.ticks import Tick, date_ticks
from keyctl.lib.moments import start_of_day
from keyctl.systems.groups import GroupUse

WIDTH, LEFT, RIGHT, TOP = 760, 96, 190, 10
ROW, FRAME, AXIS = 48, 36, 36
MOST_ROWS = 12


@dataclass(frozen=True)
class Filling:
    """``path`` is the area in use; without a known room the highest figure fills the frame."""

    group: GroupUse
    y: int
    path: str
    height: int = FRAME

    @property
    def middle(self) -> int:
        return self.y + FRAME // 2 + 4


@dataclass(frozen=True)
class Fillings:
    rows: list[Filling]
    dates: list[Tick]
    height: int
    unshown: int
    width: int = WIDTH
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP

    @property
    def bottom(self) -> int:
        return self.height - AXIS

    @property
    def inner(self) -> int:
        return self.right - self.left


def draw_fillings(groups: Sequence[GroupUse], months: Sequence[date], today: date) -> Fillings:
    ends = [*months[1:], today + timedelta(days=1)]
    across = TimeScale(start_of_day(months[0]), start_of_day(ends[-1]), LEFT, WIDTH - RIGHT)
    places = [across.x(start_of_day(day)) for day in (months[0], *ends)]
    shown = groups[:MOST_ROWS]
    return Fillings(
        rows=[_filling(group, TOP + ROW * nth, places) for nth, group in enumerate(shown)],
        dates=date_ticks(across),
        height=TOP + ROW * len(shown) + AXIS,
        unshown=len(groups) - len(shown),
    )


def _filling(group: GroupUse, top: int, places: Sequence[int]) -> Filling:
    return Filling(group, top, _area(group, top, places))


def _area(group: GroupUse, top: int, places: Sequence[int]) -> str:
    """From the bottom of the frame up to each month's figure and down again."""
    scale = Scale(group.room or max(group.used), top, top + FRAME)
    steps = "".join(f"V{scale.y(used)}H{end}" for used, end in zip(group.used, places[1:], strict=True))
    return f"M{places[0]} {top + FRAME}{steps}V{top + FRAME}Z"
