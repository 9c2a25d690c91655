"""A holder's own report: it waits for the desk, which confirms it or finds the key."""

import pytest
from django.core.exceptions import PermissionDenied

from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Conflict, Refused
from keyctl.losses.models import LossReport
from keyctl.losses.services import confirm_report, refuse_report, report_own_loss
from tests import factories
from tests.keyctl.losses.estate import Estate

TOLD = {"where": "Tram 4", "last_seen": "Monday", "police_number": "P-17"}
TOLD |= {"told": "The porter", "note": "Gone"}


def held_copy(estate: Estate) -> KeyCopy:
    return estate.held("AA1", factories.make_holder(estate.cast.north, user=estate.cast.requester))


def report(estate: Estate, copy: KeyCopy | None = None) -> LossReport:
    return report_own_loss(actor=estate.cast.requester, copy=copy or held_copy(estate), **TOLD)


def test_a_report_waits_and_the_key_counts_as_held(estate: Estate) -> None:
    made = report(estate)
    made.copy.refresh_from_db()
    assert (made.state, made.copy.state) == ("waiting", KeyCopy.State.HELD)
    assert not made.copy.losses.exists()


def test_the_desk_confirms_and_the_case_takes_over_what_was_told(estate: Estate) -> None:
    made = confirm_report(actor=estate.cast.desk, report=report(estate))
    lost = made.copy.losses.get()
    made.copy.refresh_from_db()
    assert made.copy.state == KeyCopy.State.LOST
    assert (lost.where, lost.last_seen, lost.police_number) == ("Tram 4", "Monday", "P-17")
    assert made.case == lost.case
    assert lost.case.note == "Gone"
    assert lost.case.notes.get().text == "By the holder: The porter"


def test_the_desk_finds_that_it_is_no_loss(estate: Estate) -> None:
    made = report(estate)
    with pytest.raises(Refused, match="Say what became"):
        refuse_report(actor=estate.cast.desk, report=made, answer=" ")
    done = refuse_report(actor=estate.cast.desk, report=made, answer="It hung at the desk")
    assert (done.state, done.case) == ("refused", None)
    assert done.copy.state == KeyCopy.State.HELD


def test_only_who_holds_the_key_reports_it(estate: Estate) -> None:
    with pytest.raises(Refused, match="not written down as yours"):
        report_own_loss(actor=estate.cast.requester, copy=estate.held("AA1"), note="Gone")


def test_a_loss_is_reported_once(estate: Estate) -> None:
    made = report(estate)
    with pytest.raises(Conflict, match="reported this key already"):
        report(estate, made.copy)
    confirm_report(actor=estate.cast.desk, report=made)
    with pytest.raises(Conflict, match="confirmed already"):
        confirm_report(actor=estate.cast.officer, report=made)


@pytest.mark.parametrize("role", ["locksmith", "manager", "auditor", "requester"])
def test_only_desk_and_officer_confirm(estate: Estate, role: str) -> None:
    made = report(estate)
    with pytest.raises((PermissionDenied, Refused)):
        confirm_report(actor=estate.cast.everybody[role], report=made)
    made.refresh_from_db()
    assert made.state == "waiting"


def test_nobody_confirms_their_own_loss(estate: Estate) -> None:
    copy = estate.held("AA1", factories.make_holder(estate.cast.north, user=estate.cast.officer))
    made = report_own_loss(actor=estate.cast.officer, copy=copy, note="Gone")
    with pytest.raises(Refused, match="Somebody else at the desk"):
        confirm_report(actor=estate.cast.officer, report=made)
