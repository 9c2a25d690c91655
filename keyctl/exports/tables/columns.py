"""What a table is: its columns, and its rows as the page of its list narrows them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.lib.language import Text
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.prints.workbook import SheetColumn

# As the address of the list says it; a wrong word narrows nothing, as on the page.
Narrowed = Mapping[str, str]
Cell = str | int | None


@dataclass(frozen=True)
class Column:
    """``heading`` is understood by `imports` where it takes such a table in."""

    heading: str
    value: Callable[[Any], Cell]
    width: int = 16


@dataclass(frozen=True)
class Table:
    name: str
    # The route of its list.
    page: str
    title: Text
    takers: tuple[Role, ...]
    # In the order of the list's page, with all that the columns read.
    rows: Callable[[User, Narrowed], "QuerySet[Any]"]
    columns: tuple[Column, ...]
    tells_of_people: bool = False
    # What it was narrowed to, as the register says it: names in the place of identifiers.
    told: Callable[[User, Narrowed], Mapping[str, str]] = lambda _actor, said: said
    # The one site that it was narrowed to.
    within: Callable[[User, Narrowed], Site | None] = lambda _actor, _said: None
    # The words of the address that narrow it.
    narrowed_by: tuple[str, ...] = ()

    @property
    def headings(self) -> list[str]:
        return [column.heading for column in self.columns]

    @property
    def sheet_columns(self) -> tuple[SheetColumn, ...]:
        return tuple(SheetColumn(column.heading, column.width) for column in self.columns)

    def cells(self, row: Any) -> list[Cell]:
        return [column.value(row) for column in self.columns]

    def narrowed(self, said: Narrowed) -> dict[str, str]:
        return {name: said[name][:120] for name in self.narrowed_by if said.get(name)}

    def sites_told(self, actor: User, said: Narrowed) -> "QuerySet[Site]":
        """Those whose rows may be in it."""
        sites, one = self.sites(actor), self.within(actor, said)
        return sites.filter(pk=one.pk) if one else sites

    def sites(self, actor: User) -> "QuerySet[Site]":
        return Site.objects.for_roles(actor, *self.takers)


def yes_or_no(value: bool) -> str:
    return "yes" if value else "no"


def day(value: date | None) -> str:
    return value.isoformat() if value else ""


def moment(value: datetime | None) -> str:
    """RFC 3339, in the house's own time, with its distance from universal time."""
    return timezone.localtime(value).isoformat(timespec="minutes") if value else ""


def words(value: object) -> str:
    return "" if value is None else str(value)
