"""What stands on an export: its facts and cautions, and its rows as lines of a page or cells of a sheet."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from django.utils import timezone

from keyctl import engine
from keyctl.prints.models import Export
from keyctl.prints.rows import CoreRow, KeyRow
from keyctl.prints.typesetting import UPRIGHT, WIDE, Cell, Column, Line, in_columns, in_rows
from keyctl.prints.workbook import SheetColumn, SheetOfRows

SECRET = (
    "Secret",
    "Whoever holds this list can cut every key of the system. Keep it locked away, hand it over in person, "
    "copy nothing, and destroy it after use. If it is lost, tell the security officer the export number.",
)
CONTROL = (
    "Control key",
    "The control key takes cores out of their housings. Cut it only on a recorded order; keep it off rings.",
)
DOORS = (
    "Keep it locked away",
    "This schedule tells which key opens which door. It holds no bitting, and it still shows a thief what to "
    "look for.",
)
PINS = (
    "The pins decide",
    "What the plan means and what the pins do is told apart. Try a core by hand before you rely on a line. "
    "Exits, fire-rated doors and lock-out points follow the local code and a licensed locksmith's judgement.",
)

SCHEDULE_COLUMNS = (
    Column("Door", 28),
    Column("Lock or place", 19),
    Column("Core", 16),
    Column("Construction", 15),
    Column("Keyed to", 18),
    Column("Turned by, as planned", 32),
    Column("By the pins", 32),
)


@dataclass(frozen=True)
class ListSheet:
    """The head of a list, the same on paper and in a workbook."""

    title: str
    css_class: str
    system: str
    mark: str
    facts: tuple[tuple[str, str], ...]
    cautions: tuple[tuple[str, str], ...]


def sheet_of(export: Export, rows: int) -> ListSheet:
    when = timezone.localtime(export.asked_at)
    system = export.system
    is_secret = export.kind == Export.Kind.BITTINGS
    facts = (
        ("System", f"{system.name} ({system.code})"),
        ("Core format", engine.load_format(system.format_id).name),
        ("Keyway", system.keyway),
        ("Site", str(export.site)),
        ("Keys" if is_secret else "Cores", f"{rows:,}"),
        ("Made for", str(export.actor)),
        ("Asked for", f"{when:%d %b %Y, %H:%M}"),
        ("Reason", export.reason),
        ("Export number", str(export)),
    )
    return ListSheet(
        title=export.get_kind_display(),
        css_class=export.kind,
        system=str(system),
        mark=f"{export.actor}, {when:%d %b %Y %H:%M}, {export}",
        facts=facts,
        cautions=(SECRET, CONTROL) if is_secret else (DOORS, PINS),
    )


def bitting_pages(rows: Sequence[KeyRow]) -> Iterator[list[Line]]:
    return in_columns(list(_bitting_cells(rows)), UPRIGHT)


def schedule_pages(rows: Sequence[CoreRow]) -> Iterator[list[Line]]:
    return in_rows(SCHEDULE_COLUMNS, map(schedule_line, rows), WIDE)


def bitting_sheet(rows: Sequence[KeyRow]) -> SheetOfRows:
    columns = (("Kind", 14), ("Level", 8), ("Symbol", 16), ("Under", 16), ("Bitting", 18))
    cells = ((row.kind, row.level, row.symbol, row.under, row.bitting) for row in rows)
    return SheetOfRows("Keys", _sheet_columns(columns), cells)


def schedule_sheet(rows: Sequence[CoreRow]) -> SheetOfRows:
    columns = (
        *(("Building", 12), ("Floor", 12), ("Door", 14), ("Room", 28), ("Lock or place", 26), ("Core", 18)),
        *(("Construction", 16), ("Keyed to", 20), ("Turned by, as planned", 34), ("Pinned", 9)),
        *(("Turned by, by the pins", 34), ("Taken out by, by the pins", 24), ("Against the plan", 34)),
    )
    return SheetOfRows("Cores", _sheet_columns(columns), map(_schedule_cells, rows))


def _bitting_cells(rows: Sequence[KeyRow]) -> Iterator[Cell]:
    """Level by level, and below the top the keys under each master together."""
    width = max((len(row.symbol) for row in rows), default=0) + 2
    for number, ((kind, level), keys) in enumerate(groupby(rows, key=lambda row: (row.kind, row.level))):
        if number:
            yield "", False
        yield _heading(kind, level), True
        for under, group in groupby(keys, key=lambda row: row.under):
            if under:
                yield f"under {under}", True
            yield from ((f"{row.symbol:<{width}}{row.bitting}", False) for row in group)


def _heading(kind: str, level: int | None) -> str:
    if level is None:
        return kind
    return "Top" if level == 0 else f"{kind.removesuffix(' key')}s, level {level}"


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
        "yes" if row.is_pinned else "no",
        " ".join(row.turned),
        " ".join(row.withdrawn),
        row.by_the_pins,
    )


def _sheet_columns(columns: Sequence[tuple[str, int]]) -> tuple[SheetColumn, ...]:
    return tuple(SheetColumn(title, width) for title, width in columns)
