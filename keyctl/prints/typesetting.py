"""Long lists as pages of lines in a face of one width.

Cells cost a page setter about four times as much (`python -m tests.bench lists`); and since the number of
lines on a page is known, so is that of the pages, before the first one is set.
"""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest

Cell = tuple[str, bool]

# Signs between two columns of short cells.
GAP = 3


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a page: its cells, each with whether it is a heading; and whether its row ends here."""

    pieces: tuple[Cell, ...]
    is_last: bool = True


@dataclass(frozen=True, slots=True)
class Paper:
    """How much fits: signs in a line, lines on a page."""

    width: int
    height: int


# Measured for the sheets in css/print-listing.css; a test counts the pages.
UPRIGHT = Paper(96, 62)
WIDE = Paper(160, 45)


@dataclass(frozen=True, slots=True)
class Column:
    title: str
    width: int


def in_columns(cells: Sequence[Cell], paper: Paper) -> Iterator[list[Line]]:
    """Short cells beside each other, read down each column; a heading never ends a column."""
    columns = max(1, paper.width // (max((len(text) for text, _ in cells), default=1) + GAP))
    width = paper.width // columns
    filled = list(_without_widows(cells, paper.height))
    for start in range(0, len(filled), columns * paper.height):
        part = filled[start : start + columns * paper.height]
        down = [part[first : first + paper.height] for first in range(0, len(part), paper.height)]
        yield [
            Line(tuple((text.ljust(width), heads) for text, heads in across))
            for across in zip_longest(*down, fillvalue=("", False))
        ]


def in_rows(columns: Sequence[Column], rows: Iterable[Sequence[str]], paper: Paper) -> Iterator[list[Line]]:
    """Rows of several columns under their titles, each row kept together on a page."""
    head = Line(((_aligned(columns, [column.title for column in columns]), True),))
    page = [head]
    for row in rows:
        lines = _wrapped(columns, row)
        if len(page) + len(lines) > paper.height and len(page) > 1:
            yield page
            page = [head]
        page += lines
    if len(page) > 1:
        yield page


def _without_widows(cells: Sequence[Cell], height: int) -> Iterator[Cell]:
    at = 0
    for place, (text, heads) in enumerate(cells):
        is_followed = place + 1 < len(cells)
        if heads and is_followed and at % height == height - 1:
            yield "", False
            at += 1
        yield text, heads
        at += 1


def _wrapped(columns: Sequence[Column], row: Sequence[str]) -> list[Line]:
    """The lines of one row; a cell that is too long for its column goes on below itself."""
    cells = [
        textwrap.wrap(" ".join(text.split()), column.width - 1) or [""]
        for column, text in zip(columns, row, strict=True)
    ]
    across = list(zip_longest(*cells, fillvalue=""))
    return [
        Line(((_aligned(columns, texts), False),), is_last=number == len(across))
        for number, texts in enumerate(across, 1)
    ]


def _aligned(columns: Sequence[Column], texts: Sequence[str]) -> str:
    return "".join(text.ljust(column.width) for text, column in zip(texts, columns, strict=True))
