"""A case ends: all is back or accounted for, the person stays, or the officer says why."""

from collections.abc import Iterable, Sequence
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys.models import Holder
from keyctl.leavers.access import CLOSERS, KEEPERS
from keyctl.leavers.models import LeaverCase
from keyctl.leavers.services.opening import holds_keys, tell
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.language import in_sentence
from keyctl.places.access import require_role

Outcome = LeaverCase.Outcome
State = LeaverCase.State


def close_where_back(actor: User | None, holders: Iterable[UUID]) -> list[LeaverCase]:
    """The cases of these holders that nothing keeps open any more; in the transaction of the last return."""
    open_cases = LeaverCase.objects.filter(holder__in=set(holders), state=State.OPEN)
    done = []
    for case in open_cases.select_for_update(of=("self",)).select_related("holder__site"):
        if case.has_left and not holds_keys(case.holder):
            _end(actor, case, Outcome.BACK)
            tell(actor, case, "closed", f"closed the case of {case.holder}: all keys are accounted for")
            done.append(case)
    return done


def on_returned(actor: User, holders: Sequence[Holder]) -> None:
    """Keys left the hands of these holders: for whom was it the last one?"""
    close_where_back(actor, [holder.pk for holder in holders])


@transaction.atomic
def close_case(*, actor: User, case: LeaverCase, version: int, reason: str) -> LeaverCase:
    """With keys still out: the officer bears that, and says why."""
    case = locked(case, version)
    require_role(actor, case.holder.site, *CLOSERS)
    if not reason.strip():
        raise Refused(_("Say why the case is closed while keys are out."))
    _end(actor, case, Outcome.REASON, reason.strip())
    tell(actor, case, "closed", f"closed the case of {case.holder} with a reason", reason=reason.strip())
    return case


@transaction.atomic
def cancel_announcement(*, actor: User, case: LeaverCase, version: int) -> LeaverCase:
    """They do not leave after all; the keys stay with them."""
    case = locked(case, version)
    require_role(actor, case.holder.site, *KEEPERS)
    if not case.holder.is_active:
        raise Refused(
            _("{holder} has left. Take them back on the person's page first.").format(holder=case.holder)
        )
    end_as_staying(actor, case.holder)
    case.refresh_from_db()
    return case


def end_as_staying(actor: User | None, holder: Holder) -> LeaverCase | None:
    """The person is here (again): their open case ends, and what they hold stays theirs as before."""
    case = (
        LeaverCase.objects.select_for_update(of=("self",))
        .select_related("holder__site")
        .filter(holder=holder, state=State.OPEN)
        .first()
    )
    if case is None:
        return None
    _end(actor, case, Outcome.STAYS)
    tell(actor, case, "closed", f"closed the case of {holder}, who stays")
    return case


def locked(case: LeaverCase, version: int) -> LeaverCase:
    rows = LeaverCase.objects.select_for_update(of=("self",)).select_related("holder__site")
    case = rows.get(pk=case.pk)
    if not case.is_open:
        raise Conflict(
            _("The case of {holder} is closed: {value}.").format(
                holder=case.holder, value=in_sentence(case.get_outcome_display())
            )
        )
    if case.version != version:
        raise Conflict(
            _("The case of {holder} changed while you looked at it. Look again.").format(holder=case.holder)
        )
    return case


def _end(actor: User | None, case: LeaverCase, outcome: LeaverCase.Outcome, note: str = "") -> None:
    case.state, case.outcome, case.closing_note = State.CLOSED, outcome, note
    case.closed_at, case.closed_by = timezone.now(), actor
    case.next_reminder_at, case.version = None, case.version + 1
    case.save(
        update_fields=[
            "state",
            "outcome",
            "closing_note",
            "closed_at",
            "closed_by",
            "next_reminder_at",
            "version",
        ]
    )
