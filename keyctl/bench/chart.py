"""Shear-line residuals as shapes: for each line a bar per break around zero, and the band of the tolerance.

A break above the line (a positive residual, to the right) means that the pins below it are too long; one
below it (to the left), that they are too short. All is reckoned in thousandths of an inch; figures are shown
in those, or in hundredths of a millimetre to who reads that. The bars lie, so that the
picture is as narrow as a phone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import ceil

from django.utils.translation import gettext as _

from keyctl.engine import CoreFormat, Residual
from keyctl.lib import lengths

ZERO = 196
HALF = 80  # pixels from zero to the end of the scale
WIDTH = 330
HEAD = 44  # the line's name, and the scale
ROW, BAR = 24, 16
BETWEEN = 8  # between positions
LEAST_SCALE, MOST_SCALE = 6.0, 30.0  # thousandths at the end of the scale

OPERATING, CONTROL = "operating", "control"


@dataclass(frozen=True)
class Break:
    """One break, at the line it belongs to."""

    position: int
    number: int
    line: str
    height_in: float
    cut: str
    thousandths: float
    tolerance: float

    @property
    def is_good(self) -> bool:
        # Half a tenth of a thousandth is below what a micrometer tells.
        return abs(self.thousandths) <= self.tolerance + 0.05

    @property
    def label(self) -> str:
        rounded = f"{lengths.fine(self.thousandths):+.1f}"
        return "0.0" if rounded in {"+0.0", "-0.0"} else rounded

    @property
    def meaning(self) -> str:
        if self.is_good:
            return _("clears the line within the tolerance")
        if self.thousandths > 0:
            return _("stands above the line: the pins below it are too long, or the cut is too shallow")
        return _("stands below the line: the pins below it are too short, or the cut is too deep")


@dataclass(frozen=True)
class Bar:
    of: Break
    y: int
    length: int
    is_first: bool  # of its position, whose number stands beside it
    height: int = BAR

    @property
    def x(self) -> int:
        return ZERO - self.length if self.of.thousandths < 0 else ZERO

    @property
    def baseline(self) -> int:
        return self.y + BAR - 4

    @property
    def label_x(self) -> int:
        """The middle of the figure, beyond the bar's end."""
        return ZERO + (-1 if self.of.thousandths < 0 else 1) * (self.length + 24)


@dataclass(frozen=True)
class Panel:
    """The bars of one line. ``end`` is the scale's end in thousandths."""

    line: str
    height: int
    band: int
    bars: tuple[Bar, ...]
    end: str
    width: int = WIDTH
    zero: int = ZERO

    @property
    def low(self) -> int:
        return ZERO - HALF

    @property
    def high(self) -> int:
        return ZERO + HALF

    @property
    def band_x(self) -> int:
        return ZERO - self.band

    @property
    def band_height(self) -> int:
        return self.height - HEAD

    @property
    def text(self) -> str:
        """The drawing in words, for whoever does not see it."""
        words = (
            _("position {position}, control line: {off} {unit}")
            if self.line == CONTROL
            else _("position {position}, operating line: {off} {unit}")
        )
        unit = lengths.fine_unit()
        return "; ".join(
            words.format(position=bar.of.position, off=bar.of.label, unit=unit) for bar in self.bars
        )


@dataclass(frozen=True)
class Chart:
    panels: tuple[Panel, ...]
    breaks: tuple[Break, ...]
    tolerance: float

    @property
    def off(self) -> tuple[Break, ...]:
        return tuple(each for each in self.breaks if not each.is_good)


def draw_residuals(format: CoreFormat, residuals: Sequence[Sequence[Residual]], tolerance_in: float) -> Chart:
    breaks = tuple(breaks_of(format, residuals, tolerance_in * 1000))
    per_line = {line: [each for each in breaks if each.line == line] for line in (OPERATING, CONTROL)}
    end = _scale_of(breaks, tolerance_in * 1000)
    panels = tuple(_panel(line, mine, end) for line, mine in per_line.items() if mine)
    return Chart(panels, breaks, tolerance_in * 1000)


def breaks_of(
    format: CoreFormat, residuals: Sequence[Sequence[Residual]], tolerance: float
) -> Iterator[Break]:
    """The uppermost break under the sleeve belongs to the control line, every other to the operating line."""
    for position, found in enumerate(residuals, 1):
        under_sleeve = position in format.sleeve and len(found) > 1
        for number, each in enumerate(found, 1):
            at_control = under_sleeve and number == len(found) and each.control_thousandths is not None
            cut = each.control_cut if at_control else each.cut
            distance = each.control_thousandths if at_control else each.thousandths
            yield Break(
                position,
                number,
                CONTROL if at_control else OPERATING,
                each.height_in,
                "" if cut is None else format.symbol_of(cut),
                distance or 0.0,
                tolerance,
            )


def _scale_of(breaks: Sequence[Break], tolerance: float) -> float:
    """Thousandths at the scale's end: the furthest break, but one that lies far off makes no other vanish."""
    furthest = max((abs(each.thousandths) for each in breaks), default=0.0)
    return max(LEAST_SCALE, ceil(3 * tolerance), min(MOST_SCALE, ceil(furthest)))


def _panel(line: str, breaks: Sequence[Break], end: float) -> Panel:
    y, bars = HEAD, []
    for _position, found in groupby(breaks, key=lambda each: each.position):
        for nth, each in enumerate(found):
            bars.append(_bar(each, y + (ROW - BAR) // 2, HALF / end, is_first=nth == 0))
            y += ROW
        y += BETWEEN
    return Panel(line, y, round(breaks[0].tolerance * HALF / end), tuple(bars), f"{lengths.fine(end):.3g}")


def _bar(of: Break, y: int, scale: float, *, is_first: bool) -> Bar:
    length = max(2, min(HALF, round(abs(of.thousandths) * scale)))
    return Bar(of, y, length, is_first)
