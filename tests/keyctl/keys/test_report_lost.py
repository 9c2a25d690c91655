import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.keys import services
from keyctl.keys.models import Custody, KeyCopy
from keyctl.lib.errors import Conflict, Refused
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, sign_in


def report(room: KeyRoom, copy: KeyCopy) -> KeyCopy:
    return services.report_lost(actor=room.cast.officer, copy=copy, note="Not on the hook.")


def test_the_key_desk_and_the_officer_report_a_loss(room: KeyRoom) -> None:
    assert answers(room.cast, "keys:lost", room.held().pk) == allowed("desk", "officer")


def test_a_lost_copy_is_with_nobody_and_its_line_is_ended(room: KeyRoom) -> None:
    copy = report(room, room.held())
    copy.refresh_from_db()
    assert (copy.state, copy.holder, copy.cabinet) == ("lost", None, None)
    assert Custody.objects.get(copy=copy).ended_by == room.cast.officer


def test_history_says_who_had_it_last_and_what_was_told(room: KeyRoom) -> None:
    copy = report(room, room.held())
    event = history_of(room.holder)[0]
    assert event.verb == "key.lost"
    assert event.sentence == f"reported copy {copy} of AA1 lost; it was last with {room.holder}"
    assert event.detail == {"note": "Not on the hook."}


def test_a_copy_can_be_lost_from_a_cabinet(room: KeyRoom) -> None:
    copy = report(room, room.in_stock())
    assert f"it was last in {room.cabinet}" in history_of(copy)[0].sentence


def test_a_copy_is_lost_once(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="is already reported lost"):
        report(room, room.lost())


def test_a_destroyed_copy_cannot_be_lost(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="was destroyed; it cannot be lost"):
        report(room, room.destroyed())


def test_an_old_page_reports_nothing(room: KeyRoom) -> None:
    copy = room.in_stock()
    seen = copy.version
    room.give(copy)
    with pytest.raises(Conflict, match=f"now: {room.holder}"):
        services.report_lost(actor=room.desk, copy=copy, note="Gone.", version=seen)


def test_the_page_wants_to_know_what_happened(room: KeyRoom, client: Client) -> None:
    copy = room.held()
    sign_in(client, room.desk)
    page = reverse("keys:lost", args=[copy.pk])
    assert client.post(page, {"version": copy.version, "note": ""}).status_code == 422
    assert client.post(page, {"version": copy.version, "note": "Fell into a drain."}).status_code == 302
    assert KeyCopy.objects.get(pk=copy.pk).state == "lost"
