"""A picture of a format: its chambers to scale, as whole pixels ready for a template.

Every chamber is drawn in two halves around the operating line, which stands still in a lock: on the left the
stack as the shallowest cut holds it, on the right as the deepest does. Faint rungs are the depths between.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise
from math import ceil

from keyctl.engine import CoreFormat
from keyctl.lib import lengths

MOST_PIXELS_PER_INCH = 960
MOST_HEIGHT = 520
PITCH = 46
HALF_WIDTH = 18
MARGIN_LEFT = 104
MARGIN = 10
HEAD = 26  # the totals
FOOT_ROOM = 52  # position numbers, the sleeve's bracket, and which end is the tip
LABEL_HEIGHT = 14
TAPER = 6
# Drivers of a table carry kit numbers, not lengths.
DRIVER_IN = 0.2


@dataclass(frozen=True)
class Half:
    """One stack in half a chamber: the bottom pin below the line, whatever else above and over it."""

    x: int
    top: int
    joint: int
    foot: int
    width: int = HALF_WIDTH

    @property
    def upper_height(self) -> int:
        return self.joint - self.top

    @property
    def bottom_outline(self) -> str:
        """A bottom pin ends in a point that sits in the key's cut."""
        return (
            f"M{self.x} {self.joint}h{self.width}v{self.foot - self.joint - TAPER}"
            f"l{-TAPER} {TAPER}h{2 * TAPER - self.width}l{-TAPER} {-TAPER}z"
        )


@dataclass(frozen=True)
class Chamber:
    position: int
    x: int
    ceiling: int
    depth: int
    shallowest: Half
    deepest: Half
    width: int = 2 * HALF_WIDTH

    @property
    def halves(self) -> tuple[Half, Half]:
        return self.shallowest, self.deepest

    @property
    def middle(self) -> int:
        return self.x + HALF_WIDTH


@dataclass(frozen=True)
class Run:
    """Neighbouring positions that share the sleeve, or share having none."""

    is_sleeved: bool
    x1: int
    x2: int
    total: str

    @property
    def width(self) -> int:
        return self.x2 - self.x1

    @property
    def middle(self) -> int:
        return (self.x1 + self.x2) // 2


@dataclass(frozen=True)
class Rung:
    """Where a cut of one depth holds the foot of the stack; the label is left out where it finds no room."""

    y: int
    label: str

    @property
    def baseline(self) -> int:
        return self.y + 4


@dataclass(frozen=True)
class FormatDrawing:
    name: str
    title: str
    width: int
    height: int
    left: int
    right: int
    operating: int
    control: int | None
    floor: int
    chambers: tuple[Chamber, ...]
    runs: tuple[Run, ...]
    rungs: tuple[Rung, ...]
    ends: tuple[str, str]
    has_kit_numbers: bool

    @property
    def sleeves(self) -> tuple[Run, ...]:
        return tuple(run for run in self.runs if run.is_sleeved)

    @property
    def sleeve_height(self) -> int:
        return 0 if self.control is None else self.operating - self.control

    @property
    def last_middle(self) -> int:
        return self.chambers[-1].middle

    @property
    def totals_y(self) -> int:
        return HEAD - 8

    @property
    def numbers_y(self) -> int:
        return self.floor + 16

    @property
    def bracket_y(self) -> int:
        return self.floor + 22

    @property
    def ends_y(self) -> int:
        return self.floor + 42


def draw_format(format: CoreFormat, *, name: str, title: str) -> FormatDrawing:
    scale = _Scale(format)
    right = MARGIN_LEFT + PITCH * format.positions
    first, last = format.order.split("-")
    return FormatDrawing(
        name=name,
        title=title,
        width=right + MARGIN,
        height=scale.floor + FOOT_ROOM,
        left=MARGIN,
        right=right,
        operating=scale.line,
        control=scale.line - scale.sleeve if format.sleeve else None,
        floor=scale.floor,
        chambers=tuple(_chamber(format, scale, position) for position in range(1, format.positions + 1)),
        runs=tuple(_runs(format)),
        rungs=tuple(_rungs(format, scale)),
        ends=(first, last),
        has_kit_numbers=scale.has_kit_numbers,
    )


class _Scale:
    """Heights of the format in pixels; the rows of the picture from the ceiling to the floor."""

    def __init__(self, format: CoreFormat) -> None:
        self.format = format
        self.has_kit_numbers = format.drivers is not None and len(format.sleeve) < format.positions
        low, high = format.depth_values[0], format.depth_values[-1]
        plug = format.length_in(high)
        above = max(self._above_in(position, low) for position in range(1, format.positions + 1))
        above = max(above, format.addition * format.increment_in)
        self.per_inch = min(MOST_PIXELS_PER_INCH, MOST_HEIGHT / (plug + above))
        self.line = HEAD + MARGIN + self.pixels(above)
        self.floor = self.line + self.pixels(plug) + 8

    @property
    def sleeve(self) -> int:
        return self.pixels(self.format.addition * self.format.increment_in)

    @property
    def ceiling(self) -> int:
        return HEAD

    def pixels(self, length_in: float) -> int:
        return round(length_in * self.per_inch)

    def top(self, position: int, cut: int) -> int:
        return self.line - self.pixels(self._above_in(position, cut))

    def foot(self, cut: int) -> int:
        return self.line + self.pixels(self.format.length_in(cut))

    def _above_in(self, position: int, cut: int) -> float:
        """How far a stack reaches above the operating line when its bottom pin fills the cut."""
        total = _total(self.format, position)
        return DRIVER_IN if total is None else max(total - cut, 0) * self.format.increment_in


def _total(format: CoreFormat, position: int) -> int | None:
    return format.total.sleeve if position in format.sleeve else format.total.plain


def _chamber(format: CoreFormat, scale: _Scale, position: int) -> Chamber:
    x = MARGIN_LEFT + (position - 1) * PITCH + (PITCH - 2 * HALF_WIDTH) // 2
    low, high = format.depth_values[0], format.depth_values[-1]
    return Chamber(
        position=position,
        x=x,
        ceiling=scale.ceiling,
        depth=scale.floor - scale.ceiling,
        shallowest=Half(x, scale.top(position, low), scale.line, scale.foot(low)),
        deepest=Half(x + HALF_WIDTH, scale.top(position, high), scale.line, scale.foot(high)),
    )


def _runs(format: CoreFormat) -> Iterator[Run]:
    positions = range(1, format.positions + 1)
    for is_sleeved, group in groupby(positions, key=lambda position: position in format.sleeve):
        members = list(group)
        x1, x2 = MARGIN_LEFT + (members[0] - 1) * PITCH, MARGIN_LEFT + members[-1] * PITCH
        total = _total(format, members[0])
        yield Run(is_sleeved, x1, x2, "table" if total is None else f"T {total}")


def _rungs(format: CoreFormat, scale: _Scale) -> Iterator[Rung]:
    """Every depth has its rung; labels keep clear of one another."""
    gaps = [scale.foot(deeper) - scale.foot(shallower) for shallower, deeper in pairwise(format.depth_values)]
    stride = ceil(LABEL_HEIGHT / max(min(gaps, default=LABEL_HEIGHT), 1))
    for place, (symbol, cut) in enumerate(zip(format.depths, format.depth_values, strict=True)):
        label = f"{symbol} {lengths.figure(format.length_in(cut))}" if place % stride == 0 else ""
        yield Rung(scale.foot(cut), label)
