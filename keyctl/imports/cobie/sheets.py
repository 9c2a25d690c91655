"""The sheets of a workbook as rows of texts by their column's name; runs in the confined child."""

import io
from collections.abc import Container, Iterable, Iterator
from contextlib import contextmanager
from typing import Any, Final
from zipfile import ZipFile

from django.utils.translation import gettext

from keyctl.imports.buildings.stated import Wrong
from keyctl.imports.cobie.cells import ERROR, FORMULA, Cell, Line, lines_of
from keyctl.lib.errors import Refused
from keyctl.lib.marked import RefusedInside
from keyctl.lib.tables.workbooks import UNREADABLE, refuse_bomb
from keyctl.lib.texts import is_text

# A campus of 100,000 doors with attributes unpacks to some 600 MB of XML, which is read in passing.
LARGEST_UNPACKED: Final = 1024 * 1024 * 1024
MOST_TAGS: Final = 40_000_000
MOST_COLUMNS: Final = 60
LONGEST: Final = 255
EMPTY: Final = {"", "n/a"}
# Older workbooks write a column's name out.
WRITTEN_OUT: Final = {
    "externalsystem": "extsystem",
    "externalobject": "extobject",
    "externalidentifier": "extidentifier",
}

Row = dict[str, str]


class Workbook:
    """One pass over each sheet that is asked for; what cannot be read of a cell is a fault."""

    def __init__(self, content: bytes) -> None:
        refuse_bomb(content, largest=LARGEST_UNPACKED, most_tags=MOST_TAGS)
        from openpyxl import load_workbook

        with _readable():
            self._packed = ZipFile(io.BytesIO(content))
            book = load_workbook(io.BytesIO(content), read_only=True, keep_links=False)
            # The library knows which part a sheet is, and the texts that sheets share.
            sheets: list[Any] = book.worksheets
            self._sheets = {sheet.title.strip().casefold(): sheet for sheet in sheets}
        self.faults: list[Wrong] = []

    def __contains__(self, sheet: str) -> bool:
        return sheet.casefold() in self._sheets

    def rows(self, sheet: str, wanted: Iterable[str], *, needed: str = "Name") -> Iterator[tuple[int, Row]]:
        """The rows with something in the needed column, each with its number; blanks and "n/a" are empty."""
        if sheet not in self:
            return
        with _readable():
            places = _places(
                self._lines(sheet, range(MOST_COLUMNS)), {name.casefold(): name for name in wanted}
            )
            if needed not in places.values():
                message = gettext("There is no column {needed} in the first row.").format(needed=needed)
                self.faults.append(Wrong(sheet, 1, needed, message))
                return
            for number, cells in self._lines(sheet, places):
                row = {places[at]: self._text(sheet, number, places[at], cell) for at, cell in cells.items()}
                if number > 1 and row.get(needed):
                    yield number, row

    def _lines(self, sheet: str, wanted: Container[int]) -> Iterator[Line]:
        found = self._sheets[sheet.casefold()]
        with self._packed.open(found._worksheet_path) as part:
            yield from lines_of(part, found._shared_strings, wanted)

    def _text(self, sheet: str, number: int, name: str, cell: Cell) -> str:
        text, fault = _read(cell)
        if fault and number > 1:
            self.faults.append(Wrong(sheet, number, name, fault))
        return text


@contextmanager
def _readable() -> Iterator[None]:
    try:
        yield
    except (Refused, MemoryError):
        raise
    except Exception:  # a broken workbook breaks its readers in many ways, and none of them is ours to tell
        raise RefusedInside(UNREADABLE) from None


def _places(lines: Iterator[Line], wanted: dict[str, str]) -> dict[int, str]:
    """The wanted columns by their place, as the first row heads them."""
    head = next((cells for _, cells in lines), {})
    places: dict[str, int] = {}
    for place, cell in head.items():
        title = cell.text.strip().casefold()
        title = WRITTEN_OUT.get(title, title) if title not in wanted else title
        if title in wanted:
            places.setdefault(wanted[title], place)
    return {place: name for name, place in places.items()}


def _read(cell: Cell) -> tuple[str, str]:
    """The text, and what is wrong with the cell."""
    if cell.kind == FORMULA:
        return "", gettext("A formula stands here. Save the workbook with values in place of formulas.")
    if cell.kind == ERROR:
        return "", gettext("The spreadsheet shows an error here.")
    text = cell.text.strip()
    if text.casefold() in EMPTY:
        return "", ""
    if len(text) > LONGEST:
        return "", gettext("More than {longest} signs stand here.").format(longest=LONGEST)
    return (text, "") if is_text(text) else ("", gettext("Signs that are no text stand here."))
