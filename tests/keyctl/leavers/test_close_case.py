"""A case ends by itself with the last key; or because the person stays; or with a reason."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.keys.services import Signature, deactivate_holder, reactivate_holder, report_lost, transfer_keys
from keyctl.leavers.models import LeaverCase
from keyctl.leavers.selectors import came_back
from keyctl.leavers.services import announce_leaving, cancel_announcement, close_case, look_after
from keyctl.lib.errors import Conflict, Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom


def left(room: KeyRoom) -> LeaverCase:
    deactivate_holder(actor=room.desk, holder=room.holder)
    return LeaverCase.objects.get()


def test_the_last_key_closes_it_and_no_earlier_one(room: KeyRoom) -> None:
    first, last = room.held(), room.held()
    case = left(room)
    room.take_back(first)
    case.refresh_from_db()
    assert case.is_open
    room.take_back(last)
    case.refresh_from_db()
    assert (case.state, case.outcome, case.closed_by) == ("closed", "back", room.desk)
    assert [line.outcome for line in came_back(case)] == ["Returned", "Returned"]
    assert Event.objects.filter(verb="leaver.closed").count() == 1


def test_a_lost_key_is_accounted_for(room: KeyRoom) -> None:
    copy = room.held()
    case = left(room)
    report_lost(actor=room.desk, copy=copy)
    case.refresh_from_db()
    assert case.outcome == "back"
    assert [line.outcome for line in came_back(case)] == ["Reported lost"]


def test_a_key_that_passes_on_at_the_desk_is_accounted_for(room: KeyRoom) -> None:
    copy = room.held()
    case = left(room)
    heir = factories.make_holder(room.site)
    transfer_keys(actor=room.desk, copies=[copy], to=heir, signature=Signature("Holder Two"))
    case.refresh_from_db()
    assert case.outcome == "back"
    assert [line.outcome for line in came_back(case)] == ["Transferred"]


def test_keys_of_others_close_nothing(room: KeyRoom) -> None:
    room.held()
    case = left(room)
    other = room.give(room.in_stock(), factories.make_holder(room.site))
    room.take_back(other)
    case.refresh_from_db()
    assert case.is_open


def test_an_announced_leaving_waits_for_its_day(room: KeyRoom) -> None:
    """They may take another key until then."""
    copy = room.held()
    today = timezone.localdate()
    case = announce_leaving(actor=room.desk, holder=room.holder, leaves_on=today + timedelta(days=1))
    room.take_back(copy)
    case.refresh_from_db()
    assert case.is_open
    LeaverCase.objects.filter(pk=case.pk).update(leaves_on=today)
    look_after(timezone.now())
    case.refresh_from_db()
    assert (case.outcome, case.closed_by) == ("back", None)


def test_who_stays_after_all_keeps_the_keys(room: KeyRoom) -> None:
    copy = room.held()
    case = announce_leaving(
        actor=room.desk, holder=room.holder, leaves_on=timezone.localdate() + timedelta(days=9)
    )
    cancel_announcement(actor=room.desk, case=case, version=case.version)
    case.refresh_from_db()
    copy.refresh_from_db()
    assert (case.outcome, copy.holder) == ("stays", room.holder)


def test_who_has_left_does_not_just_stay(room: KeyRoom) -> None:
    room.held()
    case = left(room)
    with pytest.raises(Refused, match="has left"):
        cancel_announcement(actor=room.desk, case=case, version=case.version)


def test_who_receives_keys_again_is_no_leaver_any_more(room: KeyRoom) -> None:
    room.held()
    case = left(room)
    reactivate_holder(actor=room.desk, holder=room.holder)
    look_after(timezone.now())
    case.refresh_from_db()
    assert case.outcome == "stays"


def test_the_officer_closes_it_with_a_reason_and_it_stays_closed(room: KeyRoom) -> None:
    room.held()
    case = left(room)
    close_case(actor=room.cast.officer, case=case, version=case.version, reason="The lock is gone")
    case.refresh_from_db()
    assert (case.outcome, case.closing_note) == ("reason", "The lock is gone")
    look_after(timezone.now())
    assert LeaverCase.objects.count() == 1


def test_a_reason_is_wanted(room: KeyRoom) -> None:
    room.held()
    case = left(room)
    with pytest.raises(Refused, match="Say why"):
        close_case(actor=room.cast.officer, case=case, version=case.version, reason="  ")


@pytest.mark.parametrize("name", ["desk", "administrator", "auditor", "manager"])
def test_only_the_officer_gives_keys_up(room: KeyRoom, name: str) -> None:
    room.held()
    case = left(room)
    with pytest.raises(PermissionDenied):
        close_case(actor=getattr(room.cast, name), case=case, version=case.version, reason="No")


def test_who_looked_at_an_older_state_is_told(room: KeyRoom) -> None:
    copy = room.held()
    case = left(room)
    with pytest.raises(Conflict, match="changed while you looked"):
        close_case(actor=room.cast.officer, case=case, version=case.version + 1, reason="Gone")
    room.take_back(copy)
    with pytest.raises(Conflict, match="is closed"):
        close_case(actor=room.cast.officer, case=case, version=case.version, reason="Gone")
