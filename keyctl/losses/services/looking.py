"""What the lost keys of a case open: worked out at once where it is little, else as a job, and kept."""

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.cores.models import Turn
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict
from keyctl.lib.language import in_english
from keyctl.losses.access import READERS
from keyctl.losses.exposed import Exposed, find_exposed
from keyctl.losses.figures import Figures
from keyctl.losses.lost import LostKeys
from keyctl.losses.models import CaseDoor, LossCase
from keyctl.losses.services.telling import tell_exposed
from keyctl.places.access import require_role

LOOK = "losses.look"
# Cores that are looked at while somebody waits for the page.
MOST_AT_ONCE = 2000
ROWS_AT_ONCE = 2000

State = CaseDoor.State


@transaction.atomic
def look(*, actor: User, case: LossCase) -> Job | None:
    """Look what the lost keys open now. A job where there is much; the page tells how far it is."""
    require_role(actor, case.site, *READERS)
    return look_unasked(actor, case)


def look_unasked(actor: User, case: LossCase) -> Job | None:
    """The same where the act itself asked for the role: within a report of a loss."""
    if _is_little(LostKeys.of(case)):
        look_now(case)
        tell_exposed(case)
        return None
    if running := running_look(case):
        return running
    return start_job(
        actor=actor,
        kind=LOOK,
        site=case.site,
        parameters={"case": str(case.pk)},
        subjects=[case],
        back_url=reverse("losses:detail", args=[case.pk]),
        about=in_english(case),
    )


def running_look(case: LossCase) -> Job | None:
    return Job.objects.unfinished().about(case).filter(kind=LOOK).first()


def run_look(running: Running) -> dict[str, Any]:
    """The work of the job."""
    case = LossCase.objects.with_names().get(pk=running.parameters["case"])
    require_role(running.actor, case.site, *READERS)
    look_now(case, lambda done, total: running.step(done, total, _("Writing down what the lost keys open")))
    case.refresh_from_db()
    with transaction.atomic():
        tell_exposed(case)
        _record(running.actor, case)
    counted = Figures.of(case)
    return {
        "sentence": _("{case}: looked at what the lost keys open.").format(case=case),
        "url": reverse("losses:detail", args=[case.pk]),
        "facts": {_("Cores"): counted.exposed, _("Due"): counted.due},
    }


def look_now(case: LossCase, watch: Callable[[int, int], None] | None = None) -> LossCase:
    """Find, write in batches under the next number, then let that number count."""
    before, at = case.look, timezone.now()
    CaseDoor.objects.filter(case=case).exclude(look=before).delete()
    found = find_exposed(case, LostKeys.of(case))
    rows = [*found.rows, *_cleared(case, found)]
    for ordinal, row in enumerate(rows):
        row.look, row.ordinal = before + 1, ordinal
    for done, part in _written(rows):
        if watch:
            watch(done, len(rows))
        CaseDoor.objects.bulk_create(part)
    _let_count(case, before, at, Figures.counted(rows, found.notes))
    CaseDoor.objects.filter(case=case, look=before).delete()
    return case


def _is_little(lost: LostKeys) -> bool:
    rows = Turn.objects.filter(symbol__in=lost.symbols).order_by()
    return rows.values("pk")[: MOST_AT_ONCE + 1].count() <= MOST_AT_ONCE


def _cleared(case: LossCase, found: Exposed) -> Iterable[CaseDoor]:
    """What the last look had and this one has not: its doors and cores are shut to the lost keys."""
    housings = {row.housing_id for row in found.rows if row.housing_id}
    cores = {row.core_id for row in found.rows}
    for row in CaseDoor.objects.of(case).order_by("ordinal").iterator(chunk_size=ROWS_AT_ONCE):
        if row.housing_id in housings or (row.housing_id is None and row.core_id in cores):
            continue
        row.pk, row.state = None, State.CLEARED
        yield row


def _written(rows: list[CaseDoor]) -> Iterable[tuple[int, list[CaseDoor]]]:
    for start in range(0, len(rows), ROWS_AT_ONCE):
        yield start, rows[start : start + ROWS_AT_ONCE]


@transaction.atomic
def _let_count(case: LossCase, before: int, at: datetime, figures: Figures) -> None:
    mine = LossCase.objects.filter(pk=case.pk, look=before)
    if not mine.update(look=before + 1, looked_at=at, figures=figures.as_json()):
        raise Conflict(
            _("{case} was looked at by somebody else meanwhile. Look at it again.").format(case=case)
        )
    case.look, case.looked_at, case.figures = before + 1, at, figures.as_json()


def _record(actor: User, case: LossCase) -> None:
    counted = Figures.of(case)
    record(
        actor=actor,
        verb="loss.looked",
        sentence=f"looked at what the keys of {in_english(case)} open: {counted.exposed} cores, "
        f"{counted.due} due",
        site_id=case.site_id,
        subjects=[case],
        detail={"look": case.look, "cores": counted.exposed, "due": counted.due},
    )
