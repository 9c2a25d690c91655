"""The heat view of exposure as shapes: a row for each place, a column for each system, ready for a template.

A cell tells its class three ways: by the number in it, by the pattern behind, and by colour.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format

from keyctl.lib.numbers import as_number

CELL_WIDTH, CELL_HEIGHT = 104, 56
LABELS_WIDTH = 156
HEAD = 34
MARGIN = 8
SWATCH = 24
LEGEND_PITCH, LEGEND_ROW, LEGEND_ACROSS = 116, 34, 3
LEGEND_HEAD = 20
LONGEST_LABEL, LONGEST_HEAD = 18, 13

# What the typical core of a cell lets in, up to; the last class has no bound.
BOUNDS = (4, 16, 64, 256)
CLASSES = len(BOUNDS) + 1


# By row and column: by bittings let in, how many cores.
Values = Mapping[tuple[Any, Any], Mapping[int, int]]


@dataclass(frozen=True)
class Line:
    """One row or column: what it stands for, its words, and the query that narrows a list to it."""

    key: Any
    words: str
    query: str = ""


@dataclass(frozen=True)
class Cell:
    """``level`` is the class from 1; 0 where the cell has no core that was assessed."""

    x: int
    y: int
    level: int
    typical: int
    worst: int
    cores: int
    row: str
    column: str
    query: str
    width: int = CELL_WIDTH
    height: int = CELL_HEIGHT

    @property
    def middle(self) -> int:
        return self.x + self.width // 2

    @property
    def number(self) -> str:
        return shortened(self.typical)

    @property
    def number_baseline(self) -> int:
        return self.y + 25

    @property
    def note_baseline(self) -> int:
        return self.y + 43


@dataclass(frozen=True)
class Text:
    x: int
    y: int
    words: str


@dataclass(frozen=True)
class Swatch:
    x: int
    y: int
    level: int
    words: str
    size: int = SWATCH

    @property
    def words_x(self) -> int:
        return self.x + SWATCH + 8

    @property
    def words_y(self) -> int:
        return self.y + 17


@dataclass(frozen=True)
class Heat:
    """``name`` goes before every id, so that two pictures on one page keep their own patterns."""

    name: str
    title: str
    width: int
    height: int
    heads: tuple[Text, ...]
    labels: tuple[Text, ...]
    rows: tuple[tuple[Cell, ...], ...]
    legend: tuple[Swatch, ...]

    @property
    def legend_head(self) -> int:
        return self.legend[0].y - 10

    @property
    def levels(self) -> range:
        return range(2, CLASSES + 1)


def draw_heat(values: Values, down: Sequence[Line], across: Sequence[Line], *, title: str) -> Heat | None:
    """The view of what each assessed core of a cell lets in; None where nothing was assessed."""
    rows = [line for line in down if any((line.key, column.key) in values for column in across)]
    columns = [line for line in across if any((row.key, line.key) in values for row in rows)]
    if not rows:
        return None
    width = max(LABELS_WIDTH + CELL_WIDTH * len(columns), MARGIN + LEGEND_PITCH * LEGEND_ACROSS) + MARGIN
    legend = tuple(_legend(HEAD + CELL_HEIGHT * len(rows) + 2 * MARGIN + LEGEND_HEAD))
    return Heat(
        name="heat",
        title=title,
        width=width,
        height=legend[-1].y + LEGEND_ROW,
        heads=tuple(
            Text(
                LABELS_WIDTH + CELL_WIDTH * place + CELL_WIDTH // 2, HEAD - 12, _cut(line.words, LONGEST_HEAD)
            )
            for place, line in enumerate(columns)
        ),
        labels=tuple(
            Text(MARGIN, HEAD + CELL_HEIGHT * place + CELL_HEIGHT // 2 + 5, _cut(line.words, LONGEST_LABEL))
            for place, line in enumerate(rows)
        ),
        rows=tuple(tuple(_row(values, row, place, columns)) for place, row in enumerate(rows)),
        legend=legend,
    )


def _row(values: Values, row: Line, place: int, columns: Sequence[Line]) -> list[Cell]:
    cells = []
    for beside, column in enumerate(columns):
        found = values.get((row.key, column.key), {})
        typical = median_of(found)
        cells.append(
            Cell(
                x=LABELS_WIDTH + CELL_WIDTH * beside,
                y=HEAD + CELL_HEIGHT * place,
                level=level_of(typical),
                typical=typical,
                worst=max(found, default=0),
                cores=sum(found.values()),
                row=row.words,
                column=column.words,
                query="&".join(filter(None, (row.query, column.query))),
            )
        )
    return cells


def median_of(found: Mapping[int, int]) -> int:
    """What the middle core lets in, the lower of two; 0 for none.

    >>> median_of({4: 1, 128: 2}), median_of({4: 2, 128: 2}), median_of({})
    (128, 4, 0)
    """
    left = (sum(found.values()) + 1) // 2
    for accepts, number in sorted(found.items()):
        left -= number
        if left <= 0:
            return accepts
    return 0


def level_of(accepts: int) -> int:
    """The class of so many bittings, from 1; 0 for none.

    >>> [level_of(number) for number in (0, 1, 4, 5, 256, 257)]
    [0, 1, 1, 2, 4, 5]
    """
    return 1 + sum(accepts > bound for bound in BOUNDS) if accepts else 0


def _legend(top: int) -> list[Swatch]:
    lows = [1, *(bound + 1 for bound in BOUNDS)]
    words = [f"{low} to {high}" for low, high in zip(lows, BOUNDS, strict=False)] + [f"over {BOUNDS[-1]}"]
    return [
        Swatch(
            MARGIN + LEGEND_PITCH * (place % LEGEND_ACROSS),
            top + LEGEND_ROW * (place // LEGEND_ACROSS),
            place + 1,
            each,
        )
        for place, each in enumerate(words)
    ]


def shortened(number: int) -> str:
    """A number that fits a cell.

    >>> shortened(16384), shortened(2_500_000)
    ('16,384', '2.5 M')
    """
    return as_number(number) if number < 1_000_000 else f"{number_format(f'{number / 1e6:.3g}')} M"


def _cut(words: str, longest: int) -> str:
    return words if len(words) <= longest else f"{words[: longest - 1]}…"
