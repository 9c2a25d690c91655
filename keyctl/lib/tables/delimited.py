"""CSV, by whatever sign its columns are parted, in the encodings that spreadsheets write."""

import codecs
import csv
import io
from collections.abc import Iterator

from keyctl.lib.marked import RefusedInside, gettext_noop
from keyctl.lib.tables.cells import LONGEST_CELL, Entry, text_entry, too_wide

DELIMITERS = ",;\t"
# With room for blanks around the text; a quotation mark left open runs into it.
LONGEST_FIELD = 10 * LONGEST_CELL
NO_TABLE = gettext_noop("This is neither a CSV file nor a workbook (.xlsx). Save the list as one of the two.")


def delimited_rows(content: bytes, most_columns: int) -> Iterator[list[Entry]]:
    text = _decoded(content)
    first = text.split("\n", 1)[0]
    delimiter = max(DELIMITERS, key=first.count)
    csv.field_size_limit(LONGEST_FIELD)
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True):
            if len(row) > most_columns and any(value.strip() for value in row[most_columns:]):
                raise too_wide(most_columns)
            yield [text_entry(value) for value in row[:most_columns]]
    except csv.Error as error:
        raise _unreadable(error) from None


def _unreadable(error: csv.Error) -> RefusedInside:
    if "field limit" in str(error):
        text = gettext_noop(
            "A cell holds more than {most} signs, or a quotation mark is left open. Is this the right file?"
        )
        return RefusedInside(text, most=LONGEST_CELL)
    return RefusedInside(gettext_noop("The file cannot be read as CSV: a quotation mark is left open."))


def _decoded(content: bytes) -> str:
    try:
        return _by_its_marks(content)
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _by_its_marks(content: bytes) -> str:
    """UTF-16 says so in its first bytes; without them a NUL is no text."""
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        text = content.decode("utf-16", errors="replace")
    elif b"\0" in content:
        raise RefusedInside(NO_TABLE)
    else:
        text = content.decode("utf-8-sig")
    if "\0" in text:
        raise RefusedInside(NO_TABLE)
    return text
