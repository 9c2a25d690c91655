"""What stands on an export: its facts and cautions, and its rows as grids on pages or cells of a sheet."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext

from keyctl import engine
from keyctl.formats.naming import name_of
from keyctl.lib.days import moment
from keyctl.lib.language import Text
from keyctl.lib.numbers import as_number
from keyctl.prints.frame import Head, Secrecy
from keyctl.prints.lists.lockchart import SIGNS as MARKS
from keyctl.prints.lists.rows import CoreRow, KeyRow
from keyctl.prints.models import Export
from keyctl.prints.paper import Paper, Shape, paper
from keyctl.prints.press.blocks import Area, Block, Column, Grid, Words, fitting, parted, rows_of, stacked
from keyctl.prints.press.face import width_of
from keyctl.prints.workbook import SheetColumn, SheetOfRows
from keyctl.systems.models import KeySymbol, KeySystem

SECRET = (
    gettext_lazy("Secret"),
    gettext_lazy(
        "Whoever holds this list can cut every key of the system. Keep it locked away, hand it over "
        "in person, copy nothing, and destroy it after use. If it is lost, tell the security officer "
        "the export number."
    ),
)
CONTROL = (
    gettext_lazy("Control key"),
    gettext_lazy(
        "The control key takes cores out of their housings. Cut it only on a recorded order; keep it "
        "off rings."
    ),
)
DOORS = (
    gettext_lazy("Keep it locked away"),
    gettext_lazy(
        "This schedule tells which key opens which door. It holds no bitting, and it still shows a "
        "thief what to look for."
    ),
)
PINS = (
    gettext_lazy("The pins decide"),
    gettext_lazy(
        "What the plan means and what the pins do is told apart. Try a core by hand before you rely "
        "on a line. Exits, fire-rated doors and lock-out points follow the local code and a licensed "
        "locksmith's judgement."
    ),
)

SCHEDULE_COLUMNS = (
    Column(gettext_lazy("Door"), 28),
    Column(gettext_lazy("Lock or place"), 19),
    Column(gettext_lazy("Core"), 16),
    Column(gettext_lazy("Construction"), 19),
    Column(gettext_lazy("Keyed to"), 18),
    Column(gettext_lazy("Turned by, as planned"), 30),
    Column(gettext_lazy("By the pins"), 30),
)
SCHEDULE_HEADS = frozenset({0, 2})
# Of the workbooks.
SCHEDULE_CELLS = (
    *(SheetColumn(gettext_lazy("Building"), 12), SheetColumn(gettext_lazy("Floor"), 12)),
    *(SheetColumn(gettext_lazy("Door"), 14), SheetColumn(gettext_lazy("Room"), 28)),
    *(SheetColumn(gettext_lazy("Lock or place"), 26), SheetColumn(gettext_lazy("Core"), 18)),
    *(SheetColumn(gettext_lazy("Construction"), 20), SheetColumn(gettext_lazy("Keyed to"), 20)),
    *(SheetColumn(gettext_lazy("Turned by, as planned"), 34), SheetColumn(gettext_lazy("Pinned"), 9)),
    SheetColumn(gettext_lazy("Turned by, by the pins"), 34),
    SheetColumn(gettext_lazy("Taken out by, by the pins"), 24),
    SheetColumn(gettext_lazy("Against the plan"), 34),
)
BITTING_CELLS = (
    *(SheetColumn(gettext_lazy("Kind"), 14), SheetColumn(gettext_lazy("Level"), 8)),
    *(SheetColumn(gettext_lazy("Symbol"), 16), SheetColumn(gettext_lazy("Under"), 16)),
    SheetColumn(gettext_lazy("Bitting"), 18),
)
LARGEST = 8.5
# So many rows stay together under the heading of their group.
ROWS_TOGETHER = 16


@dataclass(frozen=True)
class ListSheet:
    """What stands before a list, the same on paper and in a workbook."""

    facts: tuple[tuple[str, str], ...]
    cautions: tuple[tuple[Text, Text], ...]


def sheet_of(export: Export, noun: Text, rows: int, *, formats: str = "") -> ListSheet:
    when = timezone.localtime(export.asked_at)
    facts = (
        *(_system_facts(export.system) if export.system else ()),
        (_("Site"), str(export.site)),
        *(((_("Building"), str(export.building)),) if export.building else ()),
        (str(noun).title(), as_number(rows)),
        *(((_("Formats"), formats),) if formats else ()),
        (_("Made for"), str(export.actor)),
        (_("Asked for"), moment(when)),
        (_("Reason"), export.reason),
        (_("Export number"), str(export)),
    )
    signs = ((_("Signs"), _signs()),) if export.kind == Export.Kind.CHART else ()
    return ListSheet(facts, (SECRET, CONTROL) if export.holds_bittings else (DOORS, PINS, *signs))


def _signs() -> str:
    """On a chart."""
    marks = "; ".join(f"{sign} {mark.label}" for mark, sign in MARKS.items())
    return _("{marks}; pages without a mark are left out.").format(marks=marks)


def _system_facts(system: KeySystem) -> tuple[tuple[str, str], ...]:
    return (
        (_("System"), f"{system.name} ({system.code})"),
        (_("Core format"), name_of(engine.load_format(system.format_id))),
        (_("Keyway"), system.keyway),
    )


def head_of(export: Export) -> Head:
    return Head(
        kind=export.get_kind_display(),
        title=str(
            export.system or (f"{export.building.code} {export.building}" if export.building else export.site)
        ),
        made_by=str(export.actor),
        made_at=timezone.localtime(export.asked_at),
        secrecy=Secrecy.BITTINGS if export.holds_bittings else Secrecy.LOCKED,
        site=str(export.site),
        number=str(export),
    )


def bitting_areas(rows: Sequence[KeyRow], first: float | None = None, code: str = "") -> Iterator[Area]:
    """Level by level, and below the top the keys under each master together, several beside each other."""
    sheet = paper()
    columns = _bitting_columns(rows, sheet)
    return stacked(_bitting_blocks(rows, columns, code), sheet.body_height, first)


def schedule_areas(rows: Sequence[CoreRow]) -> Iterator[Area]:
    sheet = paper(Shape.WIDE)
    lines = rows_of(SCHEDULE_COLUMNS, map(schedule_line, rows))
    size = fitting(SCHEDULE_COLUMNS, sheet.body_width, LARGEST)
    grid = Grid(SCHEDULE_COLUMNS, lines, heads=SCHEDULE_HEADS, size=size)
    return parted(grid, sheet.body_height)


def bitting_sheet(rows: Sequence[KeyRow]) -> SheetOfRows:
    cells = ((str(row.kind.label), row.level, row.symbol, row.under, row.bitting) for row in rows)
    return SheetOfRows(_("Keys"), BITTING_CELLS, cells)


def schedule_sheet(rows: Sequence[CoreRow]) -> SheetOfRows:
    return SheetOfRows(_("Cores"), SCHEDULE_CELLS, map(_schedule_cells, rows))


def _bitting_columns(rows: Sequence[KeyRow], sheet: Paper) -> tuple[Column, ...]:
    widest = max((len(row.symbol) for row in rows), default=6)
    longest = max((len(row.bitting) for row in rows), default=7)
    heads = pgettext("narrow column", "Symbol"), pgettext("narrow column", "Bitting")
    pair = (
        Column(heads[0], max(widest, len(heads[0])) + 2),
        Column(heads[1], max(longest, len(heads[1])) + 4),
    )
    across = int(sheet.body_width / width_of("n" * sum(column.width for column in pair), LARGEST))
    return pair * max(1, across)


def _bitting_blocks(rows: Sequence[KeyRow], columns: tuple[Column, ...], code: str) -> Iterator[Block]:
    across, heads = len(columns) // 2, frozenset(range(0, len(columns), 2))
    for (kind, level, under), keys in groupby(rows, key=lambda row: (row.kind, row.level, row.under)):
        words = _heading(kind, level)
        words = _("{keys}, under {master}").format(keys=words, master=under) if under else words
        words = f"{code}: {words}" if code else words
        cells = [cell for key in keys for cell in (key.symbol, key.bitting)]
        lines = [
            _filled(cells[start : start + 2 * across], 2 * across)
            for start in range(0, len(cells), 2 * across)
        ]
        for start in range(0, len(lines), ROWS_TOGETHER):
            part = rows_of(columns, lines[start : start + ROWS_TOGETHER])
            said = _("{heading}, going on").format(heading=words) if start else words
            heading = Words(said, 9.5, is_bold=True, tag="H2")
            yield Block((heading, Grid(columns, part, heads=heads, size=LARGEST)))


def _filled(cells: list[str], width: int) -> list[str]:
    return cells + [""] * (width - len(cells))


def _heading(kind: KeySymbol.Kind, level: int | None) -> str:
    if level is None:
        return str(kind.label)
    if level == 0:
        return _("Top keys")
    if kind == KeySymbol.Kind.MASTER:
        return _("Masters, level {level}").format(level=level)
    return _("Change keys, level {level}").format(level=level)


def schedule_line(row: CoreRow) -> tuple[str, ...]:
    door = f"{row.building} {row.door} {row.room}".strip() or "–"
    return (
        door,
        row.place,
        row.core,
        row.construction,
        ", ".join(row.keyed_to),
        " ".join(row.planned),
        row.by_the_pins,
    )


def _schedule_cells(row: CoreRow) -> tuple[str, ...]:
    return (
        *(row.building, row.floor, row.door, row.room, row.place, row.core, row.construction),
        ", ".join(row.keyed_to),
        " ".join(row.planned),
        _("yes") if row.is_pinned else _("no"),
        " ".join(row.turned),
        " ".join(row.withdrawn),
        row.by_the_pins,
    )
