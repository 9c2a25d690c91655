"""A lock chart as a table: keys in columns, locks in rows.

The first row holds a heading and the names of the keys. A row headed "Bitting" may follow with the cuts of
keys in use. Every other row is a lock: its name, and a mark in the column of each key.
"""

from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from keyctl.lib.errors import Refused
from keyctl.lib.sheets import Cell, Sheet, read_sheet
from keyctl.lib.spreadsheets import as_csv

MOST_KEYS = 1000
MOST_LOCKS = 5000
OPENS, MAY = {"x", "1", "yes"}, {"o", "?", "may"}
BITTING_ROW = "bitting"
MOST_REASONS = 10

EXAMPLE = (
    ("Lock", "M", "A1", "A2", "B1", "Cleaning"),
    ("Bitting", "", "", "", "", ""),
    ("101", "x", "x", "", "", "o"),
    ("102", "x", "", "x", "", "o"),
    ("201", "x", "", "", "x", "x"),
    ("Front door", "x", "x", "x", "x", "x"),
)


@dataclass(frozen=True)
class DrawnChart:
    keys: list[str]
    locks: list[dict[str, object]]
    bittings: dict[str, str] = field(repr=False)


def example_csv() -> bytes:
    return as_csv(EXAMPLE)


def read_table(content: bytes) -> DrawnChart:
    """The chart in a file; refused with every odd mark and where it stands."""
    sheet = read_sheet(content, most_columns=MOST_KEYS + 1, most_rows=MOST_LOCKS + 2)
    keys = [cell.text for cell in sheet.rows[0][1][1:]]
    if not keys:
        raise Refused(_("No key stands in the first row: write the names of the keys beside its heading."))
    rows = sheet.rows[1:]
    bittings: dict[str, str] = {}
    if rows and rows[0][1][0].text.casefold() == BITTING_ROW:
        bittings, rows = _bittings(keys, rows[0][1]), rows[1:]
    reasons: list[str] = []
    locks = [_lock(sheet, keys, number, cells, reasons) for number, cells in rows]
    if reasons:
        raise Refused(_("Not every mark can be read."), reasons=reasons[:MOST_REASONS])
    return DrawnChart(keys, locks, bittings)


def _bittings(keys: list[str], cells: tuple[Cell, ...]) -> dict[str, str]:
    return {key: cell.text for key, cell in zip(keys, cells[1:], strict=False) if cell.text}


def _lock(
    sheet: Sheet, keys: list[str], number: int, cells: tuple[Cell, ...], reasons: list[str]
) -> dict[str, object]:
    opens, may = [], []
    for column, key in enumerate(keys, 1):
        mark = sheet.cell(cells, column).text.casefold()
        if mark in OPENS:
            opens.append(key)
        elif mark in MAY:
            may.append(key)
        elif mark:
            text = _("Row {row}, key {key}: “{mark}” is no mark; use x, o or nothing.")
            reasons.append(text.format(row=number, key=key, mark=mark[:10]))
    return {"id": cells[0].text, "opens": opens, "may": may}
