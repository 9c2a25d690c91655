"""Reading a table out of an uploaded file: CSV, or a workbook's first sheet.

Nothing in a file is trusted: its size, rows, columns and unpacked size are bounded, workbooks with declared
entities are refused, and nothing is calculated: a formula stays one and is told as such.
"""

import csv
import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from keyctl.lib.errors import Refused

LARGEST_FILE = 5_000_000
LARGEST_UNPACKED = 60_000_000
# Of its XML: a cell takes up to four tags and each some microseconds, and empty tags pack very small.
MOST_TAGS = 1_500_000
MOST_PARTS = 500
MOST_ROWS = 30_000
MOST_COLUMNS = 40
LONGEST_CELL = 200
CHUNK = 1 << 16
DOCTYPES = tuple("<!DOCTYPE".encode(code) for code in ("ascii", "utf-16-le", "utf-16-be"))


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
    name: str, content: bytes, *, most_columns: int = MOST_COLUMNS, most_rows: int = MOST_ROWS
) -> Sheet:
    """The table in a file; refused with the reason where it is none."""
    if len(content) > LARGEST_FILE:
        raise Refused(f"The file is larger than {LARGEST_FILE // 1_000_000} MB. Send a part of the list.")
    if content[:2] == b"PK":
        rows = _workbook_rows(content, most_columns, most_rows)
    else:
        rows = _csv_rows(name, content, most_columns)
    kept = []
    for number, cells in enumerate(rows, 1):
        if number > most_rows:
            raise Refused(f"The list has more than {most_rows:,} rows. Send it in parts.")
        if any(not cell.is_empty for cell in cells):
            kept.append((number, cells))
    if not kept:
        raise Refused("There is nothing in this file. Choose the file with the list.")
    width = max(len(cells) for _, cells in kept)
    if width > most_columns:
        raise _too_wide(most_columns)
    return Sheet(tuple(kept), width)


def _too_wide(most_columns: int) -> Refused:
    return Refused(f"The list has more than {most_columns} columns. Leave out those nobody needs.")


def _csv_rows(name: str, content: bytes, most_columns: int) -> Iterator[tuple[Cell, ...]]:
    if b"\0" in content:
        raise Refused(
            f"{name} is neither a CSV file nor a workbook (.xlsx). Save the list as one of the two."
        )
    text = _decoded(content)
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True):
            if len(row) > most_columns and any(value.strip() for value in row[most_columns:]):
                raise _too_wide(most_columns)
            yield _trimmed([_text_cell(value) for value in row[:most_columns]])
    except csv.Error:
        raise Refused("The file cannot be read as CSV: a quotation mark is left open.") from None


def _decoded(content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _text_cell(value: str) -> Cell:
    text = value.strip()
    if not text:
        return EMPTY_CELL
    if len(text) > LONGEST_CELL:
        raise Refused(f"A cell holds more than {LONGEST_CELL} signs. Is this the right file?")
    return Cell(text, "formula") if text.startswith("=") else Cell(text)


def _trimmed(cells: list[Cell]) -> tuple[Cell, ...]:
    while cells and cells[-1].is_empty:
        cells.pop()
    return tuple(cells)


def _workbook_rows(content: bytes, most_columns: int, most_rows: int) -> Iterator[tuple[Cell, ...]]:
    _refuse_bomb(content)
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=False, keep_links=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        for row in sheet.iter_rows(max_row=most_rows + 1, max_col=most_columns + 1):
            yield _trimmed([_workbook_cell(cell) for cell in row])
    except Refused:
        raise
    except Exception:  # a broken workbook breaks the reader in many ways, and none of them is ours to tell
        raise Refused("The workbook cannot be read. Save it anew as .xlsx, or as CSV.") from None


def _refuse_bomb(content: bytes) -> None:
    """Unpack every part once, counting, before anything parses it."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            if len(parts) > MOST_PARTS:
                raise Refused("The workbook has too many parts to be a list. Save the list by itself.")
            left, tags = LARGEST_UNPACKED, MOST_TAGS
            for part in parts:
                size, found = _counted(packed, part, left, tags)
                left, tags = left - size, tags - found
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError):
        raise Refused("The workbook cannot be unpacked. Save it anew as .xlsx, or as CSV.") from None


def _counted(packed: zipfile.ZipFile, part: zipfile.ZipInfo, left: int, most_tags: int) -> tuple[int, int]:
    """The size of one part and its tags, by what really comes out of it."""
    size, tags, tail = 0, 0, b""
    with packed.open(part) as unpacked:
        while chunk := unpacked.read(CHUNK):
            size, tags = size + len(chunk), tags + chunk.count(b"<")
            if size > left or tags > most_tags:
                raise Refused(
                    "The workbook is far larger than a list, once unpacked. Save the list by itself."
                )
            if any(mark in tail + chunk for mark in DOCTYPES):
                raise Refused("The workbook declares things of its own, which no list needs. Save it anew.")
            tail = chunk[-32:]
    return size, tags


def _workbook_cell(cell: Any) -> Cell:
    value, kind = cell.value, cell.data_type
    if value is None:
        return EMPTY_CELL
    if kind == "f":
        return Cell("=", "formula")
    if kind == "e":
        return Cell(str(value)[:20], "error")
    if kind == "n" and isinstance(value, int | float) and not isinstance(value, bool):
        whole = int(value) if float(value).is_integer() else value
        return Cell(str(whole), "number")
    if kind in {"s", "inlineStr", "str"}:
        return _text_cell(str(value))
    return Cell(str(value)[:40], "date" if kind == "d" else "text")
