"""Somebody goes: a case where keys are out, one at a site, and none where nothing has to come back."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.http import Http404
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.keys.services import deactivate_holder
from keyctl.leavers.models import LeaverCase
from keyctl.leavers.services import announce_leaving, open_case, tell_leaving
from keyctl.lib.errors import Refused
from tests.keyctl.keys.keyroom import KeyRoom

Why = LeaverCase.Why


def test_a_holder_who_leaves_with_keys_gets_a_case(room: KeyRoom) -> None:
    room.held()
    deactivate_holder(actor=room.desk, holder=room.holder)
    case = LeaverCase.objects.get()
    assert (case.holder, case.state, case.leaves_on, case.why) == (room.holder, "open", None, "by-hand")
    assert case.next_reminder_at is not None
    event = Event.objects.get(verb="leaver.opened")
    assert event.site_id == room.site.pk
    assert str(room.holder) in event.sentence


def test_a_holder_who_leaves_without_keys_gets_none(room: KeyRoom) -> None:
    deactivate_holder(actor=room.desk, holder=room.holder)
    assert not LeaverCase.objects.exists()


def test_a_case_that_is_refused_with_the_leaving_is_not_there_either(room: KeyRoom) -> None:
    """Listener and leaving are one transaction."""
    room.held()
    with pytest.raises(PermissionDenied):
        deactivate_holder(actor=room.cast.requester, holder=room.holder)
    assert not LeaverCase.objects.exists()


def test_told_twice_it_is_one_case(room: KeyRoom) -> None:
    room.held()
    first = open_case(actor=room.desk, holder=room.holder, why=Why.SCIM)
    assert open_case(actor=room.desk, holder=room.holder, why=Why.TABLE) == first
    assert LeaverCase.objects.get().why == Why.SCIM


def test_a_last_day_is_announced_and_reminded_of_two_weeks_before(room: KeyRoom) -> None:
    last = timezone.localdate() + timedelta(days=60)
    case = announce_leaving(actor=room.desk, holder=room.holder, leaves_on=last)
    assert case.next_reminder_at is not None
    assert timezone.localdate(case.next_reminder_at) == last - timedelta(days=14)
    assert not case.has_left


def test_who_goes_sooner_than_announced_is_reminded_at_once(room: KeyRoom) -> None:
    room.held()
    last = timezone.localdate() + timedelta(days=60)
    announce_leaving(actor=room.desk, holder=room.holder, leaves_on=last)
    deactivate_holder(actor=room.desk, holder=room.holder)
    case = LeaverCase.objects.get()
    assert case.leaves_on is None
    assert case.next_reminder_at is not None
    assert case.next_reminder_at <= timezone.now()


@pytest.mark.parametrize("days", [-1, 731])
def test_a_day_that_is_past_or_far_is_refused(room: KeyRoom, days: int) -> None:
    with pytest.raises(Refused):
        announce_leaving(
            actor=room.desk, holder=room.holder, leaves_on=timezone.localdate() + timedelta(days=days)
        )


def test_nobody_leaves_twice(room: KeyRoom) -> None:
    deactivate_holder(actor=room.desk, holder=room.holder)
    with pytest.raises(Refused, match="has left already"):
        announce_leaving(actor=room.desk, holder=room.holder, leaves_on=timezone.localdate())


@pytest.mark.parametrize("name", ["locksmith", "manager", "auditor", "requester"])
def test_these_do_not_announce_a_leaving(room: KeyRoom, name: str) -> None:
    with pytest.raises(PermissionDenied):
        announce_leaving(actor=getattr(room.cast, name), holder=room.holder, leaves_on=timezone.localdate())


def test_a_stranger_finds_nobody_to_announce(room: KeyRoom) -> None:
    with pytest.raises(Http404):
        tell_leaving(actor=room.cast.stranger, holder=room.holder)


@pytest.mark.django_db(transaction=True)
def test_of_two_who_tell_it_at_once_one_case_comes(room: KeyRoom) -> None:
    room.held()
    start = Barrier(2)

    def leave(_: int) -> str:
        try:
            start.wait()
            deactivate_holder(actor=room.desk, holder=room.holder)
        except Refused as refusal:
            return refusal.message
        finally:
            connection.close()
        return ""

    with ThreadPoolExecutor(2) as pool:
        outcomes = sorted(pool.map(leave, range(2)))
    assert outcomes[0] == ""
    assert "already receives no keys" in outcomes[1]
    assert LeaverCase.objects.count() == 1
    assert Event.objects.filter(verb="leaver.opened").count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_directories_that_tell_it_at_once_one_case_comes(room: KeyRoom) -> None:
    room.held()
    start = Barrier(2)

    def tell(why: LeaverCase.Why) -> LeaverCase:
        try:
            start.wait()
            return open_case(actor=room.desk, holder=room.holder, why=why)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        cases = list(pool.map(tell, [Why.SCIM, Why.TABLE]))
    assert cases[0].pk == cases[1].pk
    assert LeaverCase.objects.count() == 1
