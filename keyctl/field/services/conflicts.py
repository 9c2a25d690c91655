"""What contradicts the register: the cores concerned become disputed, and a case keeps both stories."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar
from uuid import UUID

from django.db import IntegrityError, connection, transaction
from django.db.models import Max, Q, QuerySet
from django.utils.translation import gettext

from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.cores.services import dispute_cores
from keyctl.field.models import CaseCore, CaseHousing, CaseStory, FieldEvent, ReconcileCase
from keyctl.field.parsing import Body, Found, Put, Swapped, Told
from keyctl.field.things import Things, housings_of, tags_of
from keyctl.field.wording import register_of, said_of
from keyctl.lib.errors import Conflict
from keyctl.lib.holding import hold
from keyctl.lib.language import in_english
from keyctl.places.models import Housing, Site

NUMBER_ATTEMPTS = 50
# Why the register did not take it may name what is another site's.
ELSEWHERE_TOO = "It concerns another site as well, and why it was not done is told there."
State = ReconcileCase.State
R = TypeVar("R", CaseCore, CaseHousing)


@dataclass(frozen=True)
class Concerned:
    """What one site has to do with a story."""

    site: UUID
    cores: Sequence[Core]
    housings: Sequence[Housing]


def concerned_by(body: Body, home: Site) -> list[Concerned]:
    """The cores and housings that a story is about, site by site, held until the transaction ends."""
    if not isinstance(body, Swapped | Put | Found):
        return [Concerned(home.pk, [], [])]
    told = housings_of([body])
    hold(Housing.objects.filter(pk__in=told))
    wanted = Q(tag__in=tags_of([body])) | Q(housing__in=told)
    hold(Core.objects.filter(wanted))
    cores = list(Core.objects.with_places().filter(wanted).defer("pinning").order_by("tag"))
    housings = {core.housing.pk: core.housing for core in cores if core.housing}
    missing = told - set(housings)
    rows = Housing.objects.select_related("door__floor__building__site").filter(pk__in=missing)
    housings |= {row.pk: row for row in (rows if missing else ())}
    return _by_site(cores, list(housings.values())) or [Concerned(home.pk, [], [])]


def _by_site(cores: Sequence[Core], housings: Sequence[Housing]) -> list[Concerned]:
    sites = dict.fromkeys([core.site_id for core in cores] + [body.door.site.pk for body in housings])
    return [
        Concerned(
            site,
            [core for core in cores if core.site_id == site],
            [body for body in housings if body.door.site.pk == site],
        )
        for site in sites
    ]


def case_for(concerned: Concerned) -> ReconcileCase:
    """The open case that one of them stands in already, joined by the others; else a new one."""
    cores, housings = _standing(concerned)
    found = {row.case for row in cores} | {row.case for row in housings}
    open_cases = sorted(found, key=lambda case: case.number)
    case = _merged(open_cases) if open_cases else _numbered(concerned.site)
    _add(
        case,
        {core.pk for core in concerned.cores} - {row.core_id for row in cores},
        {body.pk for body in concerned.housings} - {row.housing_id for row in housings},
    )
    return case


def _standing(concerned: Concerned) -> tuple[list[CaseCore], list[CaseHousing]]:
    """What of it stands in open cases; they are held, and read again where waiting may have changed them."""
    held: set[UUID] = set()
    while True:
        cores = _open(CaseCore.objects.filter(core__in=concerned.cores)) if concerned.cores else []
        bodies = concerned.housings
        housings = _open(CaseHousing.objects.filter(housing__in=bodies)) if bodies else []
        cases = {row.case_id for row in cores} | {row.case_id for row in housings}
        if cases <= held or not connection.features.has_select_for_update:
            return cores, housings
        hold(ReconcileCase.objects.filter(pk__in=cases))
        held |= cases


def _open(rows: QuerySet[R]) -> list[R]:
    return list(rows.filter(is_open=True).order_by().select_related("case"))


def _merged(cases: Sequence[ReconcileCase]) -> ReconcileCase:
    """Cases that one story ties together are settled by one decision: the younger go on in the oldest."""
    oldest, *younger = cases
    for case in younger:
        for rows in (CaseCore.objects, CaseHousing.objects):
            rows.filter(case=case, is_open=True).update(case=oldest)
        known = CaseStory.objects.filter(case=oldest).values("event")
        CaseStory.objects.filter(case=case).exclude(event__in=known).update(case=oldest)
        FieldEvent.objects.filter(case=case).update(case=oldest)
        Core.objects.filter(disputed_over=str(case)).update(disputed_over=str(oldest))
        case.state, case.merged_into = State.MERGED, oldest
        case.save(update_fields=["state", "merged_into"])
    return oldest


def _add(case: ReconcileCase, cores: Iterable[UUID], housings: Iterable[UUID]) -> None:
    new = list(cores)
    CaseCore.objects.bulk_create([CaseCore(case=case, core_id=pk) for pk in new])
    CaseHousing.objects.bulk_create([CaseHousing(case=case, housing_id=pk) for pk in housings])
    if new:
        dispute_cores(cores=new, over=str(case))


def _numbered(site: UUID) -> ReconcileCase:
    """The next number. Where two take the same one the database lets one through; the other tries again."""
    for _ in range(NUMBER_ATTEMPTS):
        last = ReconcileCase.objects.aggregate(last=Max("number"))["last"] or 0
        try:
            with transaction.atomic():
                return ReconcileCase.objects.create(number=last + 1, site_id=site)
        except IntegrityError:
            continue
    raise Conflict(gettext("Many cases are being opened at this moment. Try again."))


def keep_story(
    event: FieldEvent, told: Told, things: Things, *, case: ReconcileCase, concerned: Concerned, teller: str
) -> None:
    """What was told, beside what the register says now; history hears of it."""
    says = said_of(told.body, things, case.site_id)
    CaseStory.objects.create(
        case=case,
        event=event,
        teller=teller[:240],
        claimed_at=told.claimed_at,
        received_at=event.received_at,
        skew_seconds=event.skew_seconds,
        says=says[:1000],
        register_said=register_of(concerned.cores, concerned.housings),
        reason=(event.later_reason or event.reason) if event.case == case else ELSEWHERE_TOO,
    )
    record(
        actor=event.sender,
        verb="field.contradicted",
        sentence=f"told {in_english(case)} what contradicts the register: {teller} {says}"[:400],
        site_id=case.site_id,
        subjects=[case, *concerned.cores, *{body.door for body in concerned.housings}],
        detail={"event": str(event.pk), "claimed_at": told.claimed_at.isoformat()},
    )
