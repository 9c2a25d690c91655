"""Workbooks (.xlsx): the first sheet. Every part is unpacked once and counted before anything parses it.

A formula is not calculated: it stays one and is told as such. The parser refuses declared entities by itself
(`defusedxml`); that no part declares anything is looked at here before.
"""

import io
import zipfile
from collections.abc import Iterator
from typing import Any

from keyctl.lib.errors import Refused
from keyctl.lib.marked import RefusedInside, gettext_noop
from keyctl.lib.tables.cells import EMPTY, Entry, no_list, text_entry

LARGEST_UNPACKED = 50 * 1024 * 1024
# Of its XML: a cell takes up to four tags and each some microseconds, and empty tags pack very small.
MOST_TAGS = 1_500_000
MOST_PARTS = 200
# Sheets pack some twenty times smaller; a small file may pack anyhow.
MOST_RATIO = 150
SMALL = 1024 * 1024
CHUNK = 1 << 16
DOCTYPES = tuple("<!DOCTYPE".encode(code) for code in ("ascii", "utf-16-le", "utf-16-be"))
PACKED = b"PK\x03\x04"
LONGEST_NUMBER = 40
LOCKED = 0x1
UNPACKABLE = gettext_noop("The workbook cannot be unpacked. Save it anew as .xlsx, or as CSV.")
UNREADABLE = gettext_noop("The workbook cannot be read. Save it anew as .xlsx, or as CSV.")


def workbook_rows(content: bytes, most_columns: int, most_rows: int) -> Iterator[list[Entry]]:
    refuse_bomb(content)
    from openpyxl import load_workbook

    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=False, keep_links=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        for row in sheet.iter_rows(max_row=most_rows + 1, max_col=most_columns + 1):
            yield [_entry(cell) for cell in _without_padding(row)]
    except (Refused, MemoryError):
        raise
    except Exception:  # a broken workbook breaks the reader in many ways, and none of them is ours to tell
        raise RefusedInside(UNREADABLE) from None


def _without_padding(row: tuple[Any, ...]) -> list[Any]:
    """Each row is filled up to as many cells as may be asked for, and rows that are not there are made."""
    cells = list(row)
    while cells and cells[-1].value is None:
        cells.pop()
    return cells


def refuse_bomb(content: bytes, *, largest: int = LARGEST_UNPACKED, most_tags: int = MOST_TAGS) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            _refuse_odd_parts(parts, len(content))
            left, tags = _most_unpacked(len(content), largest), most_tags
            for part in parts:
                size, found = _counted(packed, part, left, tags)
                left, tags = left - size, tags - found
    except (Refused, MemoryError):
        raise
    except Exception:  # a damaged archive breaks its reader in many ways, too
        raise RefusedInside(UNPACKABLE) from None


def _most_unpacked(size: int, largest: int) -> int:
    return min(largest, max(SMALL, MOST_RATIO * size))


def _refuse_odd_parts(parts: list[zipfile.ZipInfo], size: int) -> None:
    """What no spreadsheet program writes: passwords, parts that share bytes or a name, ways out."""
    if len(parts) > MOST_PARTS:
        raise RefusedInside(
            gettext_noop("The workbook has too many parts to be a list. Save the list by itself.")
        )
    if any(part.flag_bits & LOCKED for part in parts):
        raise RefusedInside(gettext_noop("The workbook is locked with a password. Save it without one."))
    names = [part.filename for part in parts]
    shares = len(set(names)) < len(names) or sum(part.compress_size for part in parts) > size
    if shares or any(name.startswith("/") or ".." in name.split("/") for name in names):
        raise RefusedInside(UNPACKABLE)


def _counted(packed: zipfile.ZipFile, part: zipfile.ZipInfo, left: int, most_tags: int) -> tuple[int, int]:
    """The size of one part and its tags, by what really comes out of it."""
    size, tags, tail = 0, 0, b""
    with packed.open(part) as unpacked:
        while chunk := unpacked.read(CHUNK):
            if not size and chunk.startswith(PACKED):
                raise RefusedInside(
                    gettext_noop("The workbook holds another packed file. Save the list by itself.")
                )
            size, tags = size + len(chunk), tags + chunk.count(b"<")
            if size > left or tags > most_tags:
                raise no_list()
            if any(mark in tail + chunk for mark in DOCTYPES):
                raise RefusedInside(
                    gettext_noop(
                        "The workbook declares things of its own, which no list needs. Save it anew."
                    )
                )
            tail = chunk[-32:]
    return size, tags


def _entry(cell: Any) -> Entry:
    value, kind = cell.value, cell.data_type
    if value is None:
        return EMPTY
    if kind == "f":
        return "=", "formula"
    if kind == "n" and isinstance(value, int | float) and not isinstance(value, bool):
        return _number(value)
    if kind in {"s", "inlineStr", "str"}:
        return text_entry(str(value))
    text, _ = text_entry(str(value)[:LONGEST_NUMBER])
    return text, {"e": "error", "d": "date"}.get(kind, "text")


def _number(value: float) -> Entry:
    text = str(int(value) if float(value).is_integer() else value)
    return (text, "number") if len(text) <= LONGEST_NUMBER else (text[:LONGEST_NUMBER], "error")
