"""A chart as one drawing in whole pixels: rows of cores, columns of keys, a mark where they meet."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _

from keyctl.cores.chart import Chart, Row
from keyctl.cores.marks import Mark
from keyctl.cores.models import Core

CELL = 18
LETTER = 7
MARGIN = 12
TITLE_ROOM = 28
LEGEND_ROW = 22
LONGEST_LABEL = 34


@dataclass(frozen=True)
class Text:
    x: int
    y: int
    words: str


@dataclass(frozen=True)
class Sign:
    x: int
    y: int
    mark: str


@dataclass(frozen=True)
class Drawing:
    title: str
    width: int
    height: int
    left: int
    top: int
    rows: list[Text]
    columns: list[Text]
    signs: list[Sign]
    legend: list[tuple[Sign, Text]]
    right: int
    bottom: int
    row_lines: list[int]
    column_lines: list[int]


def draw_chart(chart: Chart, *, title: str) -> Drawing:
    labels = [label_of(row.core) for row in chart.rows]
    left = MARGIN + LETTER * max((len(label) for label in labels), default=0) + MARGIN
    top = MARGIN + TITLE_ROOM + LETTER * max((len(str(key)) for key in chart.keys), default=0) + MARGIN
    right, bottom = left + CELL * len(chart.keys), top + CELL * len(chart.rows)
    legend = list(_legend(bottom + LEGEND_ROW))
    return Drawing(
        title=title,
        width=max(right, 430) + MARGIN,
        height=bottom + LEGEND_ROW * (len(legend) + 1) + MARGIN,
        left=left,
        top=top,
        rows=[Text(left - 6, top + CELL * row + 13, label) for row, label in enumerate(labels)],
        columns=[Text(left + CELL * place + 13, top - 6, str(key)) for place, key in enumerate(chart.keys)],
        signs=list(_signs(chart.rows, left, top)),
        legend=legend,
        right=right,
        bottom=bottom,
        row_lines=[top + CELL * row for row in range(len(labels) + 1)],
        column_lines=[left + CELL * place for place in range(len(chart.keys) + 1)],
    )


def label_of(core: Core) -> str:
    """The door where the core is, or its tag where it is in none."""
    if core.housing:
        words = f"{core.housing.door} {core.housing.door.name}".strip()
    else:
        words = _("Core {core}").format(core=core)
    return words if len(words) <= LONGEST_LABEL else f"{words[: LONGEST_LABEL - 1]}…"


def _signs(rows: list[Row], left: int, top: int) -> Iterator[Sign]:
    for line, row in enumerate(rows):
        for place, cell in enumerate(row.cells):
            if cell.mark:
                yield Sign(left + CELL * place + 1, top + CELL * line + 1, cell.mark)


def _legend(top: int) -> Iterator[tuple[Sign, Text]]:
    for line, mark in enumerate(Mark):
        y = top + LEGEND_ROW * line
        yield Sign(MARGIN, y - 13, mark), Text(MARGIN + 24, y, _("The key {does}").format(does=mark.label))
