"""Where each label comes to lie: arithmetic in millimetres, and the page's pieces ready for the template."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.formats import localize
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from keyctl.labels.models import PAPERS, LabelGrid
from keyctl.labels.selectors import Wanted
from keyctl.lib.tags import grouped
from keyctl.places.finding import printed_address
from keyctl.prints.codes import QUIET_ZONE, qr_svg

# The least that a phone reads surely; the code of the shortest address has 25 modules without its quiet zone.
SMALLEST_CODE = Decimal(12)
SMALLEST_WITH_QUIET_ZONE = SMALLEST_CODE * (25 + 2 * QUIET_ZONE) / 25
LARGEST_CODE = Decimal(24)
MARGIN = Decimal("1.5")
# Beside a code this narrow a tag breaks into its groups.
TEXT_WIDTH = Decimal(17)
TEXT_HEIGHT = Decimal(6)


@dataclass(frozen=True)
class Label:
    left: Decimal
    top: Decimal
    qr: SafeString
    # With its quiet zone.
    code: Decimal
    tag: str
    noun: str
    words: str


@dataclass(frozen=True)
class LabelSheets:
    paper_width: Decimal
    paper_height: Decimal
    width: Decimal
    height: Decimal
    is_upright: bool
    pages: tuple[tuple[Label, ...], ...]


def lay_out(grid: LabelGrid, wanted: Sequence[Wanted], start: int) -> LabelSheets:
    """``start`` is the first free label of the first sheet, counted from 1, row by row."""
    width, height = PAPERS[grid.paper]
    upright = is_upright(grid)
    code = code_size(grid)
    sheets: dict[int, list[Label]] = {}
    for place, thing in enumerate(wanted, start - 1):
        sheet, on_sheet = divmod(place, grid.per_sheet)
        left, top = place_of(grid, on_sheet)
        qr = qr_svg(printed_address(thing.tag), gettext("Code of {tag}").format(tag=grouped(thing.tag)))
        label = Label(left, top, qr, code, grouped(thing.tag), thing.noun, thing.words)
        sheets.setdefault(sheet, []).append(label)
    pages = tuple(tuple(labels) for _, labels in sorted(sheets.items()))
    return LabelSheets(width, height, grid.width, grid.height, upright, pages)


def place_of(grid: LabelGrid, nth: int) -> tuple[Decimal, Decimal]:
    """The upper left corner of a label, the shift of the printer included."""
    row, column = divmod(nth, grid.columns)
    return grid.left + column * grid.step_x + grid.shift_x, grid.top + row * grid.step_y + grid.shift_y


def is_upright(grid: LabelGrid) -> bool:
    """The text stands below the code where there is no room beside it."""
    return grid.width - 2 * MARGIN - SMALLEST_WITH_QUIET_ZONE < TEXT_WIDTH


def code_size(grid: LabelGrid) -> Decimal:
    """The side of the code with its quiet zone, as large as the label and its text allow."""
    across, down = grid.width - 2 * MARGIN, grid.height - 2 * MARGIN
    room = min(across, down - TEXT_HEIGHT) if is_upright(grid) else min(down, across - TEXT_WIDTH)
    return min(room, LARGEST_CODE)


def overhang(grid: LabelGrid) -> list[str]:
    """Why the grid does not lie on its paper, in sentences."""
    width, height = PAPERS[grid.paper]
    left, top = place_of(grid, 0)
    last_left, last_top = place_of(grid, grid.per_sheet - 1)
    found = []
    if left < 0 or last_left + grid.width > width:
        words = gettext(
            "The columns do not lie on the sheet: they go from {start} to {end} mm, and it is {room} mm wide."
        )
        found.append(_too_large(words, left, last_left + grid.width, width))
    if top < 0 or last_top + grid.height > height:
        words = gettext(
            "The rows do not lie on the sheet: they go from {start} to {end} mm, and it is {room} mm high."
        )
        found.append(_too_large(words, top, last_top + grid.height, height))
    return found


def _too_large(words: str, start: Decimal, end: Decimal, room: Decimal) -> str:
    return words.format(start=localize(start), end=localize(end), room=localize(room))
