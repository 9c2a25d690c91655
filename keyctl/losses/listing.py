"""A page of what lost keys open: narrowed by the database, counted from what the last look counted."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.core.paginator import Page, Paginator
from django.utils.functional import cached_property

from keyctl.accounts.models import User
from keyctl.cores.models import Core, Turn
from keyctl.losses import wording
from keyctl.losses.access import readable_sites
from keyctl.losses.figures import Cell, Figures
from keyctl.losses.forms import NOWHERE
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import CaseDoor, LossCase
from keyctl.losses.models.doors import CaseDoorQuerySet
from keyctl.losses.selectors import doors_of

Wanted = dict[str, str]


class CountedPaginator(Paginator[CaseDoor]):
    """Whose number of rows is known beforehand: a hundred thousand are not counted for each page.

    The rows of a page are found by an index alone and only then read with their places.
    """

    def __init__(self, rows: CaseDoorQuerySet, per_page: int, known: int) -> None:
        super().__init__(rows, per_page)
        self._rows, self._known = rows, known

    @cached_property
    def count(self) -> int:
        return self._known

    def page(self, number: int | str) -> Page[CaseDoor]:
        number = self.validate_number(number)
        start = (number - 1) * self.per_page
        found = list(self._rows.values_list("pk", flat=True)[start : start + self.per_page])
        read = CaseDoor.objects.filter(pk__in=found).with_places().order_by("ordinal")
        return Page(list(read), number, self)


@dataclass(frozen=True)
class DoorRow:
    """One line: what the look found, in sentences, and whether it is so at this moment."""

    row: CaseDoor
    effect: str
    route: str
    reason: str
    is_open_now: bool


def door_page(
    actor: User, case: LossCase, wanted: Wanted, number: str | None, per_page: int
) -> Page[CaseDoor]:
    mine = {str(pk) for pk in readable_sites(actor).values_list("pk", flat=True)}
    figures = Figures.of(case)
    rows = _narrowed(doors_of(case), wanted)
    if {cell.site for cell in figures.cells} - mine:
        rows = rows.filter(site__in=[UUID(site) for site in mine])
    known = figures.count(_matching(wanted, mine))
    return CountedPaginator(rows, per_page, known).get_page(number)


def lines_of(case: LossCase, page: Iterable[CaseDoor]) -> list[DoorRow]:
    rows = list(page)
    open_now = _open_now(rows, LostKeys.of(case))
    return [
        DoorRow(row, wording.effect(row), wording.route(row), wording.reason(row), row.pk in open_now)
        for row in rows
    ]


def _narrowed(rows: CaseDoorQuerySet, wanted: Wanted) -> CaseDoorQuerySet:
    facts: dict[str, Any] = {
        name: wanted[name] for name in ("door_class", "route", "state") if name in wanted
    }
    if "due" in wanted:
        facts["is_due"] = wanted["due"] == "yes"
    if "building" in wanted:
        facts["building"] = None if wanted["building"] == NOWHERE else UUID(wanted["building"])
    return rows.filter(**facts)


def _matching(wanted: Wanted, sites: set[str]) -> Callable[[Cell], bool]:
    facts: dict[str, Any] = dict(wanted)
    if "due" in facts:
        facts["is_due"] = facts.pop("due") == "yes"
    if facts.get("building") == NOWHERE:
        facts["building"] = ""
    return lambda cell: (
        cell.site in sites and all(getattr(cell, name) == word for name, word in facts.items())
    )


def _open_now(rows: list[CaseDoor], lost: LostKeys) -> set[int]:
    """The rows whose door, or whose loose core, a lost key works at this moment.

    Asked core by core: a lost top master has as many turns as there are cores.
    """
    housings = {row.housing_id for row in rows if row.housing_id}
    now = dict(Core.objects.filter(housing__in=housings).values_list("housing", "pk"))
    loose = Core.objects.filter(pk__in=[row.core_id for row in rows if not row.housing_id], housing=None)
    now |= {pk: pk for pk in loose.values_list("pk", flat=True)}
    turned = Turn.objects.filter(core__in=list(now.values()), symbol__in=list(lost.symbols))
    let_in = set(turned.values_list("core", flat=True))
    return {row.pk for row in rows if now.get(row.housing_id or row.core_id) in let_in}
