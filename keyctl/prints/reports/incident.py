"""The report of a loss as PDF: what happened, what stood open, what was decided, done and proven. No cuts."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.audit.services import record
from keyctl.lib.days import moment
from keyctl.lib.language import in_english, in_sentence
from keyctl.lib.money import money_words
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
from keyctl.places.models import Door
from keyctl.prints.frame import Head, Secrecy, new_number, now, set_print
from keyctl.prints.paper import paper
from keyctl.prints.pdf import require_printer
from keyctl.prints.press.blocks import Area, Column, Grid, fitting, flowing, rows_of

# More doors make no better report: the page of the case lists every one.
DOORS_SHOWN = 400
EVENTS_SHOWN = 300
LEFT_SHOWN = 200


DOOR_COLUMNS = (
    *(Column(gettext_lazy("Door"), 16), Column(gettext_lazy("Core"), 16), Column(gettext_lazy("Class"), 12)),
    *(
        Column(gettext_lazy("Lost key"), 28),
        Column(gettext_lazy("Due, and why"), 28),
        Column(gettext_lazy("State"), 12),
    ),
)
TIME_COLUMNS = (
    Column(gettext_lazy("When"), 22),
    Column(gettext_lazy("Who"), 27),
    Column(gettext_lazy("What"), 63),
)
LARGEST = 8.0


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
    head = Head(
        kind=_("Report of a lost key"),
        title=f"{case}, {case.site}",
        made_by=str(actor),
        made_at=now(),
        secrecy=Secrecy.LOCKED,
        number=new_number(),
    )
    _record(actor, case, head.number)
    sheet = incident_sheet(actor, case)
    areas = {"doors": _door_areas(sheet), "timeline": _time_areas(sheet)}
    return set_print("prints/incident.html", head, areas=areas, sheet=sheet)


def incident_sheet(actor: User, case: LossCase) -> IncidentSheet:
    rows = doors_of(case).filter(site__in=readable_sites(actor))
    # Those that are due first: where not all can stand here, they do.
    shown = list(rows.with_places().order_by("-is_due", "ordinal")[:DOORS_SHOWN])
    plan = case.plans.filter(chosen_at__isnull=False).select_related("chosen_by").first()
    proof = proof_state(case)
    return IncidentSheet(
        case=case,
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
    where = str(row.door) if row.door else _("In no door")
    return DoorLine(row, where, wording.effect(row), wording.route(row), wording.reason(row))


def _door_areas(sheet: IncidentSheet) -> list[Area]:
    """As many as 400 rows."""
    return _table(DOOR_COLUMNS, map(_door_cells, sheet.doors))


def _door_cells(line: DoorLine) -> tuple[str, ...]:
    row, door = line.row, line.row.door
    cautions = door and ", ".join(words for words, holds in _cautions(door).items() if holds)
    where = f"{line.where} ({cautions})" if cautions else line.where
    due = _("Was due.") if row.state == CaseDoor.State.CLEARED else _("DUE.")
    state = due if row.is_due else _("Not due.") if door else ""
    why = f"{state} {line.reason}".strip()
    door_class = row.get_door_class_display() if door else "–"
    lost = f"{row.symbol} {line.effect}: {line.route}"
    return where, str(row.core), door_class, lost, why, in_sentence(row.get_state_display())


def _cautions(door: Door) -> dict[str, bool]:
    return {_("way out"): door.is_egress, _("fire-rated"): door.is_fire_rated}


def _time_areas(sheet: IncidentSheet) -> list[Area]:
    """As it stands in the history of the case."""
    lines = [(moment(timezone.localtime(line.at)), line.who, line.words) for line in sheet.timeline]
    return _table(TIME_COLUMNS, lines)


def _table(columns: Sequence[Column], lines: Iterable[tuple[str, ...]]) -> list[Area]:
    sheet = paper()
    size = fitting(columns, sheet.body_width, LARGEST)
    return flowing(Grid(tuple(columns), rows_of(columns, lines), size=size), sheet.body_height)


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
    return money_words(money, figures.get("currency", "")) if isinstance(money, int) else ""


@transaction.atomic
def _record(actor: User, case: LossCase, number: str) -> None:
    record(
        actor=actor,
        verb="loss.report_printed",
        sentence=f"printed the report of {in_english(case)}",
        site_id=case.site_id,
        subjects=[case],
        detail={"number": case.number, "print": number},
    )
