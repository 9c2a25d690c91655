"""Reading cases: what is open, and which missing keys have waited long enough to be proposed as lost."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Case, IntegerField, QuerySet, When
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.counts.access import visible_cases
from keyctl.counts.models import CountCase
from keyctl.places.models import Site

State = CountCase.State
MISSING_DAYS = 14


@dataclass(frozen=True)
class CaseRow:
    case: CountCase
    is_proposed: bool


def cases_by_state(actor: User) -> QuerySet[CountCase]:
    """Open ones first, then explained ones that wait to be closed, then the closed, newest first."""
    order = Case(
        When(state=State.OPEN, then=0),
        When(state=State.EXPLAINED, then=1),
        default=2,
        output_field=IntegerField(),
    )
    return visible_cases(actor).order_by(order, "-opened_at", "serial")


def rows(cases: "list[CountCase]", now: datetime | None = None) -> list[CaseRow]:
    now = now or timezone.now()
    return [CaseRow(case, is_proposed_lost(case, now)) for case in cases]


def is_proposed_lost(case: CountCase, now: datetime) -> bool:
    """Missing, unexplained, and older than the days of the rule it was counted by."""
    if case.kind != CountCase.Kind.MISSING or case.state != State.OPEN:
        return False
    rule = case.count.rule
    return now - case.opened_at >= timedelta(days=rule.missing_days if rule else MISSING_DAYS)


def proposed_as_lost(site: Site, now: datetime) -> QuerySet[CountCase]:
    missing = CountCase.objects.filter(count__site=site, kind=CountCase.Kind.MISSING, state=State.OPEN)
    late = [case.pk for case in missing.with_names() if is_proposed_lost(case, now)]
    return CountCase.objects.filter(pk__in=late).with_names()
