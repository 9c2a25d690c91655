"""A core cut open with a key in it: the pins as its cuts lift them, the lines, and what stands across one.

What is free or blocked is the engine's word, chamber by chamber; the picture only gives it places.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from keyctl.cores.drawing import (
    MARGIN_LEFT,
    PIN_WIDTH,
    PITCH,
    PIXELS_PER_INCH,
    SMALLEST_INCREMENT,
    Column,
    Drawing,
    Pin,
    deepest,
    draw,
)
from keyctl.cores.sectionwords import chamber_words, core_words, plug_words
from keyctl.engine import Across, Bitting, LiftedChamber, Pinning, Turning, lift, try_key

BLADE = 34  # what is drawn of the key below the chambers
ROW = 20
FLAT = 7  # half the floor of a cut
NUMBERS, ENDS, FIRST_WORDS = 18, 34, 58


@dataclass(frozen=True)
class Crossing:
    """A line in one chamber: free, or the pin that stands across it; from wall to wall at its height."""

    x1: int
    x2: int
    y: int
    across: Across | None
    pin: Pin | None
    words: str
    is_control: bool = False

    @property
    def is_free(self) -> bool:
        return self.across is None

    @property
    def mark_x(self) -> int:
        """On the chamber's wall, clear of the label in the middle of a pin."""
        return self.x1 + (PITCH - PIN_WIDTH) // 2


@dataclass(frozen=True)
class Chamber:
    """One chamber: its column, the key's cut, and the lines in it; `core` is None where no sleeve is."""

    column: Column
    cut: str
    plug: Crossing
    core: Crossing | None

    @property
    def position(self) -> int:
        return self.column.position

    @property
    def middle(self) -> int:
        return self.column.middle


@dataclass(frozen=True)
class Section:
    """``drawing`` holds the core itself; ``turning`` what the key does."""

    drawing: Drawing
    chambers: tuple[Chamber, ...]
    turning: Turning
    plug_words: str
    core_words: str
    edge: tuple[tuple[int, int], ...]

    @property
    def has_sleeve(self) -> bool:
        return bool(self.drawing.control)

    @property
    def crossings(self) -> list[Crossing]:
        """What is drawn: outside the sleeve a withdrawing key meets the operating line, drawn once."""
        sleeve = [each.core for each in self.chambers if each.core and each.core.is_control]
        return [*(each.plug for each in self.chambers), *sleeve]

    @property
    def stopping(self) -> list[Crossing]:
        """Where pins stop the line that is nearest to turning; none where the key turns one."""
        if self.turning.operates or self.turning.withdraws:
            return []
        plug = [each.plug for each in self.chambers if not each.plug.is_free]
        core = [each.core for each in self.chambers if each.core and not each.core.is_free]
        return min(plug, core, key=len) if self.has_sleeve else plug

    @property
    def body_width(self) -> int:
        return self.drawing.operating.x2 + 6 - (self.drawing.columns[0].x - 8)

    @property
    def shell_height(self) -> int:
        return self.drawing.operating.y - 4

    @property
    def plug_label_y(self) -> int:
        return (self.drawing.operating.y + self.blade_foot) // 2

    @property
    def blade_foot(self) -> int:
        return self.drawing.columns[0].floor + BLADE

    @property
    def cut_baseline(self) -> int:
        return self.blade_foot - 10

    @property
    def number_baseline(self) -> int:
        return self.blade_foot + NUMBERS

    @property
    def end_baseline(self) -> int:
        return self.blade_foot + ENDS

    @property
    def plug_baseline(self) -> int:
        return self.blade_foot + FIRST_WORDS

    @property
    def core_baseline(self) -> int:
        return self.plug_baseline + ROW

    @property
    def plug_height(self) -> int:
        return self.blade_foot + 6 - self.drawing.operating.y

    @property
    def outline(self) -> str:
        """The key: its cut edge, and the plain back below."""
        points = " ".join(f"{x} {y}" for x, y in self.edge)
        return f"M{self.edge[0][0]} {self.blade_foot}L{points}V{self.blade_foot}z"


def draw_section(
    pinned: Pinning, bitting: Bitting, *, name: str, title: str, blank: str = "operating"
) -> Section:
    drawing = _lifted(draw(pinned, name=name, title=title), pinned, bitting.cuts)
    lifted = lift(pinned, bitting)
    chambers = tuple(
        _chamber(column, chamber, sign, drawing)
        for column, chamber, sign in zip(drawing.columns, lifted, bitting.text, strict=True)
    )
    turning = try_key(pinned, bitting, blank)
    feet = _feet(pinned, bitting.cuts, drawing.operating.y)
    return Section(
        drawing=drawing,
        chambers=chambers,
        turning=turning,
        plug_words=plug_words(lifted),
        core_words=core_words(pinned.format, lifted, turning, blank),
        edge=tuple(_edge(drawing, feet)),
    )


def _lifted(resting: Drawing, pinned: Pinning, cuts: Sequence[int]) -> Drawing:
    """Every column dropped or raised from its resting height to where this key's cut lets it stand."""
    increment = _increment(pinned)
    drops = [(cut - deepest(stack)) * increment for cut, stack in zip(cuts, pinned.stacks, strict=True)]
    above, below = max(0, -min(drops)), max(0, *drops)
    lines = [resting.operating.y + above, *(line.y + above for line in resting.control)]
    columns = tuple(
        _moved(column, drop + above, above + below, lines)
        for column, drop in zip(resting.columns, drops, strict=True)
    )
    rows = FIRST_WORDS + ROW * (2 if resting.control else 1)
    lower = above + below + BLADE + rows - ENDS
    return replace(
        resting,
        columns=columns,
        height=resting.height + lower,
        operating=replace(resting.operating, y=resting.operating.y + above),
        control=tuple(replace(line, y=line.y + above) for line in resting.control),
        legend=tuple(replace(swatch, y=swatch.y + lower) for swatch in resting.legend),
    )


def _increment(pinned: Pinning) -> int:
    return max(SMALLEST_INCREMENT, round(PIXELS_PER_INCH * pinned.format.increment_in))


def _moved(column: Column, by: int, deeper: int, lines: Sequence[int]) -> Column:
    pins = tuple(_moved_pin(pin, by, lines) for pin in column.pins)
    return replace(column, pins=pins, floor=column.floor + deeper)


def _moved_pin(pin: Pin, by: int, lines: Sequence[int]) -> Pin:
    top = pin.y + by
    return replace(pin, y=top, label_y=_label_middle(top, top + pin.height, lines))


def _label_middle(top: int, foot: int, lines: Sequence[int]) -> int:
    """The middle of the largest part that the lines leave of a pin."""
    edges = [top, *sorted({line for line in lines if top < line < foot}), foot]
    upper, lower = max(pairwise(edges), key=lambda part: part[1] - part[0])
    return (upper + lower) // 2


def _chamber(column: Column, lifted: LiftedChamber, sign: str, drawing: Drawing) -> Chamber:
    plug = _crossing(column, lifted.at_operating, drawing.operating.y)
    if not drawing.control:
        return Chamber(column, sign, plug, None)
    if not lifted.line:
        return Chamber(column, sign, plug, plug)
    at_sleeve = _crossing(column, lifted.at_withdrawing, drawing.control[0].y)
    return Chamber(column, sign, plug, replace(at_sleeve, is_control=True))


def _crossing(column: Column, across: Across | None, y: int) -> Crossing:
    left = column.x - (PITCH - column.width) // 2
    pin = next((pin for pin in column.pins if across and pin.y < y < pin.y + pin.height), None)
    return Crossing(left, left + PITCH, y, across, pin, chamber_words(across, has_pins=bool(column.pins)))


def _feet(pinned: Pinning, cuts: Sequence[int], line: int) -> list[int]:
    """Where each cut's floor lies: a lowest pin below the operating line, and the cut below that."""
    increment, format = _increment(pinned), pinned.format
    base = round(PIXELS_PER_INCH * format.base_pin_in) - format.depth_values[0] * increment
    return [line + base + cut * increment for cut in cuts]


def _edge(drawing: Drawing, feet: Sequence[int]) -> Iterator[tuple[int, int]]:
    """The cut edge from left to right: the floor of each cut, and the ridge between two."""
    middles = [column.middle for column in drawing.columns]
    uncut = min(feet) - SMALLEST_INCREMENT
    tip_first = drawing.first_end == "tip"
    yield from _blade_end(MARGIN_LEFT - 4, middles[0] - FLAT, feet[0], uncut, is_tip=tip_first)
    for place, (middle, foot) in enumerate(zip(middles, feet, strict=True)):
        yield middle - FLAT, foot
        yield middle + FLAT, foot
        if place + 1 < len(feet):
            yield from _ridge(middle + FLAT, foot, middles[place + 1] - FLAT, feet[place + 1], uncut)
    end = list(
        _blade_end(drawing.operating.x2 + 4, middles[-1] + FLAT, feet[-1], uncut, is_tip=not tip_first)
    )
    yield from reversed(end)


def _blade_end(end: int, flat: int, foot: int, uncut: int, *, is_tip: bool) -> Iterator[tuple[int, int]]:
    """From an end of the blade to a cut: a tip slants away, towards the bow the blade is uncut."""
    reach = min(abs(flat - end), foot - uncut)
    height = foot - reach
    yield end, foot + BLADE // 3 if is_tip else height
    yield (flat - reach if end < flat else flat + reach), height


def _ridge(x1: int, y1: int, x2: int, y2: int, uncut: int) -> Iterator[tuple[int, int]]:
    """Flanks of 45 degrees meet between two cuts, or at the uncut edge; none where one swallows the other."""
    run = (x2 - x1 + y1 - y2) // 2
    if not 0 < run < x2 - x1:
        return
    top = max(y1 - run, uncut)
    yield x1 + y1 - top, top
    if top > y1 - run:
        yield x2 - (y2 - top), top
