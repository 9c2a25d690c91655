"""Reading a table out of an uploaded file: CSV, or a workbook's first sheet.

Nothing in a file is trusted: a process of its own reads it (`confined`), within the bounds of `tables`, and
hands back texts. Nothing is calculated: a formula stays one and is told as such.
"""

from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from keyctl.lib.confined import run_confined
from keyctl.lib.errors import Refused

READER = "keyctl.lib.tables.reading:read"
LARGEST_FILE = 5_000_000
MOST_ROWS = 30_000
MOST_COLUMNS = 40


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in one cell. `kind`: text, number, formula, date, error."""

    text: str = field(repr=False)
    kind: str = "text"

    @property
    def is_empty(self) -> bool:
        return self.kind == "text" and not self.text


EMPTY_CELL = Cell("")


@dataclass(frozen=True, slots=True)
class Sheet:
    """The rows that hold anything, each with its number in the file, from 1."""

    rows: tuple[tuple[int, tuple[Cell, ...]], ...] = field(repr=False)
    width: int

    def cell(self, cells: tuple[Cell, ...], column: int | None) -> Cell:
        return cells[column] if column is not None and column < len(cells) else EMPTY_CELL


def column_letter(column: int) -> str:
    """
    >>> [column_letter(number) for number in (0, 25, 26, 39)]
    ['A', 'Z', 'AA', 'AN']
    """
    above, place = divmod(column, 26)
    return (column_letter(above - 1) if above else "") + chr(ord("A") + place)


def read_sheet(
    content: bytes,
    *,
    most_columns: int = MOST_COLUMNS,
    most_rows: int = MOST_ROWS,
    largest: int = LARGEST_FILE,
) -> Sheet:
    """The table in a file; refused with the reason where it is none."""
    if len(content) > largest:
        text = _("The file is larger than {size} MB. Send a part of the list.")
        raise Refused(text.format(size=largest // 1_000_000))
    found = run_confined(READER, content, most_columns=most_columns, most_rows=most_rows)
    # Cells that say the same are one: a list of a million marks takes little room.
    cells = [Cell(text, kind) for text, kind in found["texts"]]
    rows = ((number, tuple(cells[place] for place in places)) for number, places in found["rows"])
    return Sheet(tuple(rows), found["width"])
