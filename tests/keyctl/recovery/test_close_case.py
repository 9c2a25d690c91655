import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.recovery import services
from keyctl.recovery.models import ControlKeyCase
from keyctl.recovery.selectors import open_approval
from keyctl.recovery.services.closing import CHECKS
from tests.keyctl.recovery.loss import Loss, now

DONE = "One new control key; the cores of the hall are pinned anew next week."


def close(
    loss: Loss, case: ControlKeyCase, *, outcome: str = DONE, actor: User | None = None, without: str = ""
) -> ControlKeyCase:
    names = [name for name, _ in CHECKS[ControlKeyCase.Way(case.way)] if name != without]
    return services.close_case(
        actor=actor or loss.smith, case=case, version=now(case), checks=names, outcome=outcome
    )


def cancel(loss: Loss, case: ControlKeyCase, outcome: str) -> ControlKeyCase:
    return services.cancel_case(actor=loss.smith, case=case, version=now(case), outcome=outcome)


def test_a_case_with_a_new_key_is_closed(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    loss.show(case)
    closed = close(loss, case)
    assert (closed.state, closed.closed_by, closed.outcome) == ("closed", loss.smith, DONE)
    assert history_of(case)[0].detail["checks"] == ["loss", "new-key", "turned", "way-out"]


def test_a_case_with_a_cut_blank_is_closed(full: Loss) -> None:
    full.blanks()
    case = full.approve(full.chosen())
    full.cut(case)
    assert close(full, case).state == "closed"


def test_a_padlock_is_closed_without_a_second_person(padlock: Loss) -> None:
    assert close(padlock, padlock.case()).state == "closed"


def test_an_ordinary_cylinder_is_closed_without_a_second_person(fixed: Loss) -> None:
    assert close(fixed, fixed.case()).state == "closed"


def test_it_refuses_while_no_key_came_of_it(loss: Loss) -> None:
    with pytest.raises(Refused, match="No new control key came of this case yet"):
        close(loss, loss.approve(loss.agreed()))


def test_it_refuses_while_the_way_out_was_not_tried(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    loss.show(case)
    with pytest.raises(Refused, match="The case stays open") as refusal:
        close(loss, case, without="way-out")
    assert refusal.value.reasons == (
        "The door opens from the inside without a key, and it latches by itself.",
    )


def test_it_refuses_without_a_word_on_the_end(padlock: Loss) -> None:
    with pytest.raises(Refused, match="Say how it ended"):
        close(padlock, padlock.case(), outcome=" ")


def test_it_refuses_cuts_in_the_words(loss: Loss) -> None:
    case = loss.approve(loss.agreed())
    loss.show(case)
    with pytest.raises(Refused, match="may be read as the cuts"):
        close(loss, case, outcome=f"Cut {loss.control()}.")


def test_a_closed_case_takes_no_further_step(padlock: Loss) -> None:
    case = close(padlock, padlock.case())
    with pytest.raises(Conflict, match="is closed already"):
        services.choose_core(actor=padlock.smith, case=case, version=now(case), core=padlock.core())


def test_a_case_is_cancelled_when_the_key_is_found(loss: Loss) -> None:
    case = cancel(loss, loss.approve(loss.agreed()), "Found behind the bench.")
    assert case.state == "cancelled"
    assert open_approval(case) is None


def test_a_new_case_can_follow_a_cancelled_one(loss: Loss) -> None:
    cancel(loss, loss.case(), "Found behind the bench.")
    assert loss.case().is_open


def test_the_database_itself_wants_to_know_how_it_ended(loss: Loss) -> None:
    case = loss.case()
    case.state = "closed"
    with pytest.raises(IntegrityError), transaction.atomic():
        case.save()


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_closes(padlock: Loss, role: str) -> None:
    case = padlock.case()
    with pytest.raises(PermissionDenied):
        close(padlock, case, actor=padlock.cast.everybody[role])
