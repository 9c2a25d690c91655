"""Handing a building's doors over as a COBie workbook."""

import re
from collections.abc import Iterator

from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.exports.cobie.columns import NOTHING, SHEETS
from keyctl.exports.cobie.rows import Row, Rows
from keyctl.places.access import require_role
from keyctl.places.models import Building
from keyctl.places.roles import Role
from keyctl.prints.workbook import SheetColumn, SheetOfRows, write_sheets

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def export_cobie(*, actor: User, building: Building) -> bytes:
    """Where doors are and what they are called: no key, no core and no bitting.

    A large workbook takes a while, so it is made before the transaction that writes it down.
    """
    require_role(actor, building.site, Role.ADMINISTRATOR)
    rows = Rows(building, actor=actor, at=timezone.localtime())
    content = write_sheets(_sheets(rows))
    _write_down(actor=actor, building=building, doors=len(rows.doors))
    return content


@transaction.atomic
def _write_down(*, actor: User, building: Building, doors: int) -> None:
    record(
        actor=actor,
        verb="building.exported",
        sentence=f"exported {doors} doors of {building} as COBie",
        site_id=building.site_id,
        subjects=[building],
    )


def file_name(building: Building) -> str:
    """
    >>> file_name(Building(code="PN 0001"))
    'cobie-PN-0001.xlsx'
    """
    return f"cobie-{re.sub('[^0-9A-Za-z]+', '-', building.code).strip('-') or 'building'}.xlsx"


def _sheets(rows: Rows) -> Iterator[SheetOfRows]:
    for name, columns in SHEETS.items():
        made = getattr(rows, name.casefold())()
        titles = tuple(SheetColumn(column, 18) for column in columns)
        yield SheetOfRows(name, titles, _lines(made, columns, rows.made))


def _lines(made: Iterator[Row], columns: tuple[str, ...], common: Row) -> Iterator[list[str]]:
    for row in made:
        whole = common | row
        yield [whole.get(column) or NOTHING for column in columns]
