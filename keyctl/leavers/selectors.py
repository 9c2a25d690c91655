"""Reading leavers: the recovery list, one case with all that hangs on it, who is about to go."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.keys.models import Custody, Deposit, KeyCopy
from keyctl.leavers.access import visible_cases
from keyctl.leavers.models import LeaverCase
from keyctl.leavers.risks import Stake, stakes
from keyctl.losses.models import LostCopy

State = LeaverCase.State
SHOWS = ("gone", "going", "closed")


@dataclass(frozen=True)
class CaseRow:
    case: LeaverCase
    stake: Stake


@dataclass(frozen=True)
class Line:
    """One key of a case: out still, or how it came back."""

    custody: Custody
    outcome: str
    # The case of its loss.
    loss: UUID | None = None

    @property
    def is_out(self) -> bool:
        return self.custody.ended_at is None


def cases_shown(actor: User, show: str, today: date) -> "QuerySet[LeaverCase]":
    """gone: they have left and keys may be out; going: the day is announced; closed."""
    cases = visible_cases(actor)
    if show == "closed":
        return cases.filter(state=State.CLOSED).order_by("-closed_at", "pk")
    gone = Q(leaves_on=None) | Q(leaves_on__lte=today) | Q(holder__is_active=False)
    cases = cases.filter(state=State.OPEN)
    return cases.filter(gone) if show == "gone" else cases.exclude(gone).order_by("leaves_on", "pk")


def counts(actor: User, today: date) -> dict[str, int]:
    return {show: cases_shown(actor, show, today).count() for show in SHOWS}


def recovery_list(cases: "QuerySet[LeaverCase]") -> list[CaseRow]:
    """The gravest first, among equals the oldest: what the pins say, asked in one go for all."""
    found = list(cases)
    at_stake = stakes(case.holder_id for case in found)
    rows = [CaseRow(case, at_stake.get(case.holder_id, Stake())) for case in found]
    return sorted(rows, key=lambda row: (_graver_first(row.stake), row.case.opened_at, str(row.case.pk)))


def rows_of(cases: Sequence[LeaverCase]) -> list[CaseRow]:
    """In the order given."""
    at_stake = stakes(case.holder_id for case in cases)
    return [CaseRow(case, at_stake.get(case.holder_id, Stake())) for case in cases]


def stake_of(case: LeaverCase) -> Stake:
    return stakes([case.holder_id]).get(case.holder_id, Stake())


def came_back(case: LeaverCase) -> list[Line]:
    """The keys whose line ended while the case was open, and how."""
    ended = Custody.objects.filter(holder=case.holder, ended_at__gte=case.opened_at)
    if case.closed_at:
        ended = ended.filter(ended_at__lte=case.closed_at)
    ended = ended.select_related("copy__symbol__system", "ended_by").order_by("-ended_at")
    losses = dict(LostCopy.objects.filter(holder=case.holder).values_list("copy", "case"))
    return [
        Line(line, _outcome(line), losses.get(line.copy_id) if line.ending == Custody.Ending.LOST else None)
        for line in ended
    ]


def requests_of(case: LeaverCase) -> "QuerySet[KeyRequest]":
    return KeyRequest.objects.filter(holder=case.holder).order_by("-asked_at")[:10]


def deposits_of(case: LeaverCase) -> "QuerySet[Deposit]":
    """Money that is still here for keys of theirs."""
    taken = Deposit.objects.filter(handover__holder=case.holder, state=Deposit.State.TAKEN)
    return taken.select_related("handover").order_by("handover__at")


def _outcome(custody: Custody) -> str:
    if custody.ending == Custody.Ending.LOST and custody.copy.state != KeyCopy.State.LOST:
        return _("Reported lost, found since")
    if custody.ending == Custody.Ending.RETURNED and custody.copy.state == KeyCopy.State.DESTROYED:
        return _("Returned and destroyed")
    return custody.get_ending_display()


def _graver_first(stake: Stake) -> tuple[int, ...]:
    return tuple(-part for part in stake.weight)
