"""The cross-section of a pinned core as shapes: rectangles and lines in whole pixels, ready for a template.

Every column stands as its own deepest operating cut would lift it, so that the pins of the plug end at the
operating line in all positions. Heights are to one scale for every format, so that cores can be compared.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from keyctl.engine import CoreFormat, Pinning, PinStack, control_label

PIXELS_PER_INCH = 960
SMALLEST_INCREMENT = 6
PITCH = 46
PIN_WIDTH = 36
MARGIN_LEFT = 78
MARGIN = 10
HEAD_ROOM = 34  # the spring above the longest column
FOOT_ROOM = 48  # the position numbers, and which end is the tip
SWATCH = 20
SWATCH_SHARE = 100
SWATCH_ROW = 28
TAPER = 10
# A pin from a table of drivers carries a kit number, not a length.
DRIVER_HEIGHT = 40

ROLES = ("bottom", "master", "control", "top")
# The greys of a print, where no stylesheet reaches into a drawing; on screen the classes override them.
INKS = {"bottom": "#fff", "master": "#ddd", "control": "#bbb", "top": "#eee"}
SIGNS = {"bottom": "B", "master": "M", "control": "C", "top": "T"}


@dataclass(frozen=True)
class Rectangle:
    x: int
    y: int
    width: int
    height: int


@dataclass(frozen=True)
class Pin:
    role: str
    sign: str
    label: str
    x: int
    y: int
    height: int
    # The middle of the label: of the whole pin, or of its larger part where the control line crosses it.
    label_y: int
    width: int = PIN_WIDTH

    @property
    def ink(self) -> str:
        return INKS[self.role]

    @property
    def middle(self) -> int:
        return self.x + self.width // 2

    @property
    def baseline(self) -> int:
        return self.label_y + 5

    @property
    def blank(self) -> Rectangle:
        """The plain ground behind the label, free of the hatch."""
        width, height = 11 + 9 * len(self.label), min(18, self.height - 3)
        return Rectangle(self.middle - width // 2, self.label_y - height // 2, width, height)

    @property
    def pointed_outline(self) -> str:
        """A bottom pin ends in a point that sits in the key's cut; the point belongs to its height."""
        return (
            f"M{self.x} {self.y}h{self.width}v{self.height - TAPER}"
            f"l{-TAPER} {TAPER}h{2 * TAPER - self.width}l{-TAPER} {-TAPER}z"
        )


@dataclass(frozen=True)
class Column:
    """One position: its chamber, its pins from the key upwards, and the spring above them."""

    position: int
    x: int
    ceiling: int
    floor: int
    pins: tuple[Pin, ...]
    total: int
    width: int = PIN_WIDTH

    @property
    def middle(self) -> int:
        return self.x + PIN_WIDTH // 2

    @property
    def sizes(self) -> dict[str, str]:
        """The labels by role, for the table beside the picture."""
        return {role: ", ".join(pin.label for pin in self.pins if pin.role == role) for role in ROLES}

    @property
    def depth(self) -> int:
        return self.floor - self.ceiling

    @property
    def spring(self) -> str:
        """A zigzag from the top pin to the chamber's ceiling, as the points of a polyline."""
        if not self.pins:
            return ""
        top, turns = self.pins[-1].y, 6
        left, right = self.x + 9, self.x + PIN_WIDTH - 9
        steps = [top + (self.ceiling - top) * step // turns for step in range(turns + 1)]
        return " ".join(f"{right if step % 2 else left},{y}" for step, y in enumerate(steps))


@dataclass(frozen=True)
class Line:
    x1: int
    x2: int
    y: int

    @property
    def width(self) -> int:
        return self.x2 - self.x1


@dataclass(frozen=True)
class Swatch:
    role: str
    sign: str
    x: int
    y: int

    @property
    def ink(self) -> str:
        return INKS[self.role]

    @property
    def words_x(self) -> int:
        return self.x + SWATCH + 6


@dataclass(frozen=True)
class Drawing:
    """``name`` goes before every id in the picture: two pictures on one page keep their own patterns."""

    name: str
    title: str
    width: int
    height: int
    columns: tuple[Column, ...]
    operating: Line
    # One piece per run of neighbouring positions under the sleeve; none where there is no sleeve.
    control: tuple[Line, ...]
    legend: tuple[Swatch, ...]
    first_end: str
    last_end: str
    has_kit_numbers: bool

    @property
    def sleeve_height(self) -> int:
        return self.operating.y - self.control[0].y if self.control else 0

    @property
    def sleeve_baseline(self) -> int:
        return self.operating.y - self.sleeve_height // 2

    @property
    def number_baseline(self) -> int:
        return self.columns[0].floor + 18

    @property
    def end_baseline(self) -> int:
        return self.columns[0].floor + 34

    @property
    def last_middle(self) -> int:
        return self.columns[-1].middle


def draw(pinned: Pinning, *, name: str, title: str) -> Drawing:
    scale = _Scale(pinned)
    columns = tuple(_column(stack, scale, place) for place, stack in enumerate(pinned.stacks))
    right = MARGIN_LEFT + PITCH * len(columns)
    legend = _legend(columns, scale.floor + FOOT_ROOM)
    ends = ("tip", "bow") if pinned.format.order == "tip-bow" else ("bow", "tip")
    return Drawing(
        name=name,
        title=title,
        width=right + MARGIN,
        height=max(swatch.y for swatch in legend) + SWATCH_ROW + MARGIN // 2,
        columns=columns,
        operating=Line(MARGIN, right, scale.operating_line),
        control=tuple(_control_lines(columns, pinned.format, scale)),
        legend=legend,
        first_end=ends[0],
        last_end=ends[1],
        has_kit_numbers=scale.has_kit_numbers,
    )


class _Scale:
    """Where a height above a column's foot lies in the picture."""

    def __init__(self, pinned: Pinning) -> None:
        format = pinned.format
        self.format = format
        self.increment = max(SMALLEST_INCREMENT, round(PIXELS_PER_INCH * format.increment_in))
        # A bottom pin of the lowest size is a whole pin already.
        self.base = round(PIXELS_PER_INCH * format.base_pin_in) - format.depth_values[0] * self.increment
        self.has_kit_numbers = format.drivers is not None
        highest = max(self._above_line(stack) for stack in pinned.stacks)
        lowest = max(self.base + deepest(stack) * self.increment for stack in pinned.stacks)
        self.operating_line = MARGIN + HEAD_ROOM + max(highest, format.addition * self.increment)
        self.ceiling, self.floor = MARGIN, self.operating_line + lowest + 8

    @property
    def control_line(self) -> int:
        return self.operating_line - self.format.addition * self.increment

    def heights(self, stack: PinStack) -> Iterator[tuple[str, int, int]]:
        """Role, size and height in pixels of each pin, from the key upwards."""
        if stack.is_empty:
            return
        yield "bottom", stack.bottom, self.base + stack.bottom * self.increment
        for size in stack.masters:
            yield "master", size, size * self.increment
        if stack.control is not None:
            yield "control", stack.control, stack.control * self.increment
        yield "top", stack.top, self._top_height(stack)

    def _top_height(self, stack: PinStack) -> int:
        by_table = self.has_kit_numbers and stack.position not in self.format.sleeve
        return DRIVER_HEIGHT if by_table else stack.top * self.increment

    def _above_line(self, stack: PinStack) -> int:
        return (stack.control or 0) * self.increment + self._top_height(stack)


def deepest(stack: PinStack) -> int:
    """The deepest cut that turns the plug: bottom and master pins together."""
    return stack.bottom + sum(stack.masters)


def _column(stack: PinStack, scale: _Scale, place: int) -> Column:
    x = MARGIN_LEFT + place * PITCH + (PITCH - PIN_WIDTH) // 2
    top = scale.operating_line + scale.base + deepest(stack) * scale.increment
    pins = []
    for role, size, height in scale.heights(stack):
        top -= height
        label_y = _label_middle(top, height, scale.control_line)
        label = _label(scale.format, role, size)
        pins.append(Pin(role, SIGNS[role], label, x=x, y=top, height=height, label_y=label_y))
    return Column(stack.position, x, scale.ceiling, scale.floor, tuple(pins), stack.total)


def _label_middle(top: int, height: int, line: int) -> int:
    """The middle of the pin, or of the larger part where the line crosses it."""
    above, below = line - top, top + height - line
    if min(above, below) <= 0:
        return top + height // 2
    return top + above // 2 if above > below else line + below // 2


def _label(format: CoreFormat, role: str, size: int) -> str:
    return control_label(format, size) if role == "control" else str(size)


def _control_lines(columns: tuple[Column, ...], format: CoreFormat, scale: _Scale) -> Iterator[Line]:
    start: int | None = None
    for place, column in enumerate((*columns, None)):
        left = MARGIN_LEFT + place * PITCH
        covered = column is not None and column.position in format.sleeve
        if covered and start is None:
            start = left
        elif not covered and start is not None:
            yield Line(start, left, scale.control_line)
            start = None


def _legend(columns: tuple[Column, ...], top: int) -> tuple[Swatch, ...]:
    """The roles that occur, side by side."""
    present = {pin.role for column in columns for pin in column.pins}
    roles = [role for role in ROLES if role in present]
    in_a_row = (MARGIN_LEFT + PITCH * len(columns)) // SWATCH_SHARE
    return tuple(
        Swatch(
            role=role,
            sign=SIGNS[role],
            x=MARGIN + place % in_a_row * SWATCH_SHARE,
            y=top + place // in_a_row * SWATCH_ROW,
        )
        for place, role in enumerate(roles)
    )
