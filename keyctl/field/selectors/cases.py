"""Cases as their pages show them, and which case stands in the way of work."""

from dataclasses import dataclass

from django.db.models import Count, QuerySet

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.field.access import visible_cases
from keyctl.field.models import CaseCore, CaseStory, ReconcileCase
from keyctl.lib.prepared import Prepared, Slot
from keyctl.places.models import Housing

_OPEN_AT = Prepared(
    lambda: (
        ReconcileCase.objects.filter(case_housings__housing=Slot("housing"), case_housings__is_open=True)
        .order_by()
        .only("number")[:1]
    )
)


@dataclass(frozen=True)
class Standing:
    """One core of a case, as the register has it now, and what was decided."""

    core: Core
    decided: str


def cases_by_state(actor: User, state: str = "") -> QuerySet[ReconcileCase]:
    cases = visible_cases(actor).annotate(
        story_count=Count("stories", distinct=True), core_count=Count("case_cores", distinct=True)
    )
    return (cases.filter(state=state) if state else cases).order_by("-number")


def stories_of(case: ReconcileCase) -> QuerySet[CaseStory]:
    return case.stories.select_related("event__device", "event__person").order_by("received_at")


def standing_of(case: ReconcileCase) -> list[Standing]:
    rows = {row.core_id: row.decided for row in case.case_cores.all()}
    cores = Core.objects.with_places().filter(pk__in=rows).defer("pinning").order_by("tag")
    return [Standing(core, rows[core.pk]) for core in cores]


def open_case_of(core: Core) -> ReconcileCase | None:
    row = CaseCore.objects.filter(core=core, is_open=True).select_related("case").first()
    return row.case if row else None


def case_at(housing: Housing) -> str | None:
    """For whoever would work on the housing: the name of the case in which its contents are disputed."""
    case = _OPEN_AT.first(housing=housing.pk)
    return str(case) if case else None
