"""Keys that went out and came back, month by month, counted from the lines of the register.

A line is one copy out with one holder. A transfer is neither: the copy goes from hand to hand.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Case, Count, IntegerField, Q, QuerySet, Value, When

from keyctl.accounts.models import User
from keyctl.keys.access import key_sites
from keyctl.keys.models import Custody, Handover
from keyctl.lib.drawing.ticks import months_until
from keyctl.lib.moments import start_of_day
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem

MONTHS = 24


@dataclass(frozen=True)
class Movement:
    """A figure for each month, the oldest first; the last month is not over yet."""

    months: list[date]
    issued: list[int]
    returned: list[int]
    lost: list[int]

    @property
    def rows(self) -> list[tuple[date, int, int, int]]:
        return list(zip(self.months, self.issued, self.returned, self.lost, strict=True))[::-1]

    @property
    def sums(self) -> tuple[int, int, int]:
        return sum(self.issued), sum(self.returned), sum(self.lost)


def lines_of_site(site: Site) -> QuerySet[Custody]:
    return Custody.objects.filter(copy__site=site)


def lines_of_system(actor: User, system: KeySystem) -> QuerySet[Custody]:
    """Of the sites whose register the actor reads: a system may serve others too."""
    return Custody.objects.filter(copy__symbol__system=system, copy__site__in=key_sites(actor))


def movement_of(lines: QuerySet[Custody], today: date) -> Movement:
    """In three queries, whatever the register holds."""
    months = months_until(today, MONTHS)
    ended = Custody.Ending
    return Movement(
        months,
        _counted(lines.filter(out_act__way=Handover.Way.OUT), "out_at", months),
        _counted(lines.filter(ending=ended.RETURNED), "ended_at", months),
        _counted(lines.filter(ending=ended.LOST), "ended_at", months),
    )


def _counted(lines: QuerySet[Custody], moment: str, months: Sequence[date]) -> list[int]:
    """Months begin where the house stands, at its midnight."""
    begins = [start_of_day(month) for month in months]
    ends = [*begins[1:], start_of_day(_after(months[-1]))]
    within = lines.filter(Q((f"{moment}__gte", begins[0])), Q((f"{moment}__lt", ends[-1])))
    cases = [When(Q((f"{moment}__lt", end)), then=Value(nth)) for nth, end in enumerate(ends)]
    numbered = within.annotate(month=Case(*cases, output_field=IntegerField())).order_by()
    found = dict(numbered.values_list("month").annotate(number=Count("pk")))
    return [found.get(nth, 0) for nth in range(len(months))]


def _after(month: date) -> date:
    return date(month.year + month.month // 12, month.month % 12 + 1, 1)
