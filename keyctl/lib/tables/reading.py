"""A file to plain data: the texts that differ, and rows that point at them. Bounded in every direction."""

from collections.abc import Iterator
from typing import Any

from keyctl.lib.marked import RefusedInside, gettext_noop
from keyctl.lib.tables.cells import Entry, no_list, too_wide
from keyctl.lib.tables.delimited import delimited_rows
from keyctl.lib.tables.workbooks import workbook_rows

# Each takes some hundred bytes in the process that goes on with the list.
MOST_DIFFERENT = 500_000


def read(content: bytes, *, most_columns: int, most_rows: int) -> dict[str, Any]:
    """``texts`` (each with its kind), ``rows`` (number in the file from 1, places in the texts), ``width``.

    Place 0 is the empty cell; cells that are empty at a row's end are left out, and so are empty rows.
    """
    if content[:2] == b"PK":
        found = workbook_rows(content, most_columns, most_rows)
    else:
        found = delimited_rows(content, most_columns)
    places: dict[Entry, int] = {("", "text"): 0}
    rows = list(_placed(found, places, most_rows))
    if not rows:
        raise RefusedInside(gettext_noop("There is nothing in this file. Choose the file with the list."))
    width = max(len(cells) for _, cells in rows)
    if width > most_columns:
        raise too_wide(most_columns)
    return {"texts": list(places), "rows": rows, "width": width}


def _placed(
    found: Iterator[list[Entry]], places: dict[Entry, int], most_rows: int
) -> Iterator[tuple[int, list[int]]]:
    for number, entries in enumerate(found, 1):
        if number > most_rows:
            raise RefusedInside(
                gettext_noop("The list has more than {most} rows. Send it in parts."), most=most_rows
            )
        row = [places.setdefault(entry, len(places)) for entry in entries]
        while row and not row[-1]:
            row.pop()
        if len(places) > MOST_DIFFERENT:
            raise no_list()
        if row:
            yield number, row
