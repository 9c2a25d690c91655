"""The report of a loss as PDF: what happened, what stood open, what was decided, done and proven. No cuts."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.template.loader import render_to_string
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.audit.services import record
from keyctl.losses import wording
from keyctl.losses.access import READERS, readable_sites, sites_of
from keyctl.losses.figures import Figures
from keyctl.losses.models import CaseDoor, LossCase, LostCopy, RekeyPlan
from keyctl.losses.selectors import (
    BuildingRow,
    ProofState,
    WorkDone,
    buildings_of,
    doors_of,
    elsewhere,
    lost_copies,
    proof_state,
    work_of,
)
from keyctl.places.access import require_role_somewhere
from keyctl.prints.pdf import render_pdf, require_printer

# More doors make no better report: the page of the case lists every one.
DOORS_SHOWN = 400
EVENTS_SHOWN = 300
LEFT_SHOWN = 200


@dataclass(frozen=True)
class DoorLine:
    row: CaseDoor
    where: str
    effect: str
    route: str
    reason: str


@dataclass(frozen=True)
class TimeLine:
    at: datetime
    who: str
    words: str


@dataclass(frozen=True)
class IncidentSheet:
    case: LossCase
    made_by: str
    made_at: datetime
    lost: list[LostCopy]
    figures: Figures
    buildings: list[BuildingRow]
    doors: list[DoorLine]
    doors_more: int
    elsewhere: int
    plan: RekeyPlan | None
    money: str
    work: WorkDone
    proof: ProofState | None
    left: list[Any]
    timeline: list[TimeLine]


def print_incident(*, actor: User, case: LossCase) -> bytes:
    """For who reads the case; doors of the reader's own sites. History knows of it first."""
    require_role_somewhere(actor, sites_of(case), *READERS)
    require_printer()
    _record(actor, case)
    sheet = incident_sheet(actor, case)
    return render_pdf(render_to_string("prints/incident.html", {"sheet": sheet}))


def incident_sheet(actor: User, case: LossCase) -> IncidentSheet:
    rows = doors_of(case).filter(site__in=readable_sites(actor))
    # Those that are due first: where not all can stand here, they do.
    shown = list(rows.with_places().order_by("-is_due", "ordinal")[:DOORS_SHOWN])
    plan = case.plans.filter(chosen_at__isnull=False).select_related("chosen_by").first()
    proof = proof_state(case)
    return IncidentSheet(
        case=case,
        made_by=str(actor),
        made_at=timezone.localtime(),
        lost=list(lost_copies(case)),
        figures=Figures.of(case),
        buildings=buildings_of(actor, case),
        doors=[_door_line(row) for row in shown],
        doors_more=rows.count() - len(shown),
        elsewhere=elsewhere(actor, case),
        plan=plan,
        money=_money(plan.figures) if plan else "",
        work=work_of(case),
        proof=proof,
        left=_left(actor, proof),
        timeline=_timeline(case),
    )


def _door_line(row: CaseDoor) -> DoorLine:
    where = str(row.door) if row.door else "In no door"
    return DoorLine(row, where, wording.effect(row), wording.route(row), wording.reason(row))


def _left(actor: User, proof: ProofState | None) -> list[Any]:
    if proof is None:
        return []
    left = proof.proof.left_overs.filter(site__in=readable_sites(actor))
    return list(left.select_related("core", "symbol", "site")[:LEFT_SHOWN])


def _timeline(case: LossCase) -> list[TimeLine]:
    """History tells everything that was written into the case; the oldest first."""
    events = list(history_of(case)[:EVENTS_SHOWN])
    return [TimeLine(event.at, event.actor_name, event.sentence) for event in reversed(events)]


def _money(figures: dict[str, Any]) -> str:
    money = figures.get("money")
    return f"{money / 100:,.2f} {figures.get('currency', '')}".strip() if isinstance(money, int) else ""


@transaction.atomic
def _record(actor: User, case: LossCase) -> None:
    record(
        actor=actor,
        verb="loss.report_printed",
        sentence=f"printed the report of {case}",
        site_id=case.site_id,
        subjects=[case],
        detail={"number": case.number},
    )
