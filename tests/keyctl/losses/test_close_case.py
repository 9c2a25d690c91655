"""How a case ends: by proof or by an officer's reason, by two persons where a master is concerned."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.selectors import history_of
from keyctl.keys.services import report_lost
from keyctl.lib.errors import Conflict, Refused
from keyctl.losses.models import CaseOrder, LossCase
from keyctl.losses.services import cancel_case, close_case, join_cases, prove_case, reopen_case
from keyctl.orders.services import open_pin_order
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.losses.estate import Estate


def close(estate: Estate, case: LossCase, **facts: object) -> LossCase:
    case.refresh_from_db()
    given = {"actor": estate.cast.officer, "case": case, "version": case.version, "outcome": "Done"} | facts
    return close_case(**given)  # type: ignore[arg-type]


def test_a_case_without_proof_stays_open_unless_the_officer_says_why(estate: Estate) -> None:
    estate.door("AA1")
    case = estate.lose(estate.held("AA1"))
    with pytest.raises(Refused, match="No proof shows"):
        close(estate, case)
    with pytest.raises(Refused, match="Say how it ended"):
        close(estate, case, outcome=" ", without_proof=True)
    closed = close(estate, case, without_proof=True)
    assert (closed.state, closed.closed_by, closed.outcome) == ("closed", estate.cast.officer, "Done")
    assert "without a proof: Done" in history_of(case)[0].sentence


def test_a_proven_case_is_closed(estate: Estate) -> None:
    case = estate.lose(estate.held("AA1"))
    prove_case(actor=estate.cast.locksmith, case=case)
    assert close(estate, case).state == "closed"
    assert "proven" in history_of(case)[0].sentence


def test_a_stale_proof_does_not_close_a_case(estate: Estate) -> None:
    case = estate.lose(estate.held("AA1"))
    prove_case(actor=estate.cast.locksmith, case=case)
    estate.door("AB1")
    with pytest.raises(Refused, match="as the cores are pinned now"):
        close(estate, case)


def test_open_orders_keep_a_case_open(estate: Estate) -> None:
    core = estate.core("AA1")
    case = estate.lose(estate.held("AA1"))
    order = open_pin_order(actor=estate.cast.locksmith, site=estate.cast.north, title="Rekey", cores=[core])
    CaseOrder.objects.create(case=case, order=order)
    with pytest.raises(Refused, match=f"orders {order.number}"):
        close(estate, case, without_proof=True)


def test_who_opened_the_case_of_a_master_does_not_close_it(estate: Estate) -> None:
    (copy,) = estate.copies("AA")
    case = estate.lose(copy)
    LossCase.objects.filter(pk=case.pk).update(opened_by=estate.cast.officer)
    with pytest.raises(Refused, match="another security officer"):
        close(estate, case, without_proof=True)
    second = factories.make_user(site=estate.cast.north, role=Role.OFFICER)
    assert close(estate, case, actor=second, without_proof=True).state == "closed"


@pytest.mark.parametrize("role", ["desk", "locksmith", "manager", "auditor", "requester", "administrator"])
def test_only_an_officer_closes(estate: Estate, role: str) -> None:
    case = estate.lose(estate.held("AA1"))
    with pytest.raises(PermissionDenied):
        close(estate, case, actor=estate.cast.everybody[role], without_proof=True)
    with pytest.raises(Http404):
        close(estate, case, actor=estate.cast.stranger, without_proof=True)


def test_a_page_that_showed_another_state_is_told(estate: Estate) -> None:
    case = estate.lose(estate.held("AA1"))
    with pytest.raises(Conflict, match="has changed since"):
        close(estate, case, version=case.version - 1, without_proof=True)
    close(estate, case, without_proof=True)
    with pytest.raises(Conflict, match="is closed now"):
        close(estate, case, without_proof=True)


def test_a_case_is_cancelled_only_when_every_copy_is_back(estate: Estate) -> None:
    (copy,) = estate.copies("AA1")
    case = estate.lose(copy)
    with pytest.raises(Refused, match="still lost"):
        cancel_case(actor=estate.cast.officer, case=case, version=case.version, outcome="It lay there")
    estate.find(copy)
    case.refresh_from_db()
    done = cancel_case(actor=estate.cast.officer, case=case, version=case.version, outcome="It lay there")
    assert done.state == "cancelled"


def test_a_closed_case_is_taken_up_again_unless_another_is_open_for_the_key(estate: Estate) -> None:
    first, second = estate.copies("AA1", 2)
    case = close(estate, estate.lose(first), without_proof=True)
    other = estate.lose(second)
    with pytest.raises(Refused, match=f"{other} is open for the same key"):
        reopen_case(actor=estate.cast.officer, case=case, version=case.version, note="Again")
    close(estate, other, without_proof=True)
    again = reopen_case(actor=estate.cast.officer, case=case, version=case.version, note="Again")
    assert (again.state, again.closed_by, again.outcome) == ("open", None, "")


def test_keys_lost_together_are_joined(estate: Estate) -> None:
    estate.door("AA1")
    estate.door("AB1")
    case, other = estate.lose(estate.held("AA1")), estate.lose(estate.held("AB"))
    joined = join_cases(actor=estate.cast.officer, case=case, other=other, version=case.version)
    other.refresh_from_db()
    assert joined.has_master
    assert {row.symbol.symbol for row in joined.lost_copies.all()} == {"AA1", "AB"}
    assert (other.state, other.outcome) == ("cancelled", f"Joined to {case}.")


def test_cuts_are_not_written_into_a_case(estate: Estate) -> None:
    case = estate.lose(estate.held("AA1"))
    with pytest.raises(Refused, match="cuts of a key"):
        close(estate, case, outcome="It was 1234567", without_proof=True)


def test_who_opened_a_case_of_a_master_does_not_decide_the_one_it_was_joined_to(estate: Estate) -> None:
    master = estate.held("AB")
    report_lost(actor=estate.cast.officer, copy=master, note="Gone")
    other = LossCase.objects.get(lost_copies__copy=master)
    between, case = estate.lose(estate.held("AA1")), estate.lose(estate.held("AB1"))
    assert (other.opened_by, case.opened_by) == (estate.cast.officer, estate.cast.desk)
    second = factories.make_user(site=estate.cast.north, role=Role.OFFICER)
    between = join_cases(actor=second, case=between, other=other, version=between.version)
    case = join_cases(actor=second, case=case, other=between, version=case.version)
    with pytest.raises(Refused, match="You opened"):
        close(estate, case, without_proof=True)
    assert close(estate, case, actor=second, without_proof=True).state == "closed"
