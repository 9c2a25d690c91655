"""A new custodian forces a count; both sign when it is closed, and until then the rule may hold keys back."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.counts import services
from keyctl.counts.models import CabinetHandover, Count
from keyctl.keys import services as keys
from keyctl.lib.errors import Conflict, Refused
from tests.keyctl.counts.countroom import CountRoom


def change(room: CountRoom, **rule: Any) -> CabinetHandover:
    """The cabinet passes from the officer to the manager."""
    room.cabinet.custodian = room.cast.officer
    room.cabinet.save()
    room.rule(on_new_custodian=True, **rule)
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.cast.manager)
    return CabinetHandover.objects.get()


def sign(handover: CabinetHandover, *people: str, room: CountRoom) -> CabinetHandover:
    for name in people:
        services.sign_handover(actor=room.cast.everybody[name], handover=handover)
    handover.refresh_from_db()
    return handover


def test_without_a_rule_that_says_so_nothing_is_forced(room: CountRoom) -> None:
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.cast.manager)
    room.rule()
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.cast.officer)
    assert not Count.objects.exists()


def test_a_new_custodian_makes_the_count_due_today(room: CountRoom) -> None:
    handover = change(room)
    count = handover.count
    assert (handover.giver, handover.taker) == (room.cast.officer, room.cast.manager)
    assert (count.state, count.reason, count.cabinet) == ("due", "custodian", room.cabinet)
    assert history_of(room.cabinet).filter(verb="count.forced").count() == 1


def test_a_count_that_is_open_becomes_the_forced_one(room: CountRoom) -> None:
    running = room.begin()
    assert change(room).count == running


def test_two_changes_before_the_count_are_two_handovers_of_one_count(room: CountRoom) -> None:
    first = change(room)
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.cast.locksmith)
    second = CabinetHandover.objects.exclude(pk=first.pk).get()
    assert (second.giver, second.count) == (room.cast.manager, first.count)


def test_both_sign_and_only_after_the_count(room: CountRoom) -> None:
    handover = change(room)
    with pytest.raises(Refused, match="is not counted yet"):
        sign(handover, "officer", room=room)
    room.close(room.begin())
    assert sign(handover, "officer", room=room).done_at is None
    with pytest.raises(Conflict, match="signed this already"):
        sign(handover, "officer", room=room)
    assert sign(handover, "manager", room=room).done_at is not None
    with pytest.raises(Conflict, match="is handed over already"):
        sign(handover, "manager", room=room)


def test_nobody_else_signs(room: CountRoom) -> None:
    handover = change(room)
    room.close(room.begin())
    with pytest.raises(Refused, match="Only the old and the new custodian"):
        sign(handover, "desk", room=room)


def test_an_officer_who_is_no_party_excuses_somebody_who_left(room: CountRoom) -> None:
    room.cabinet.custodian = room.cast.locksmith
    room.cabinet.save()
    room.rule(on_new_custodian=True)
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.cast.manager)
    handover = CabinetHandover.objects.get()
    room.close(room.begin())
    sign(handover, "manager", room=room)
    with pytest.raises(PermissionDenied):
        services.excuse_giver(actor=room.desk, handover=handover, excuse="Gone")
    with pytest.raises(Refused, match="Say why"):
        services.excuse_giver(actor=room.cast.officer, handover=handover, excuse=" ")
    done = services.excuse_giver(actor=room.cast.officer, handover=handover, excuse="Has left")
    assert done.done_at is not None


def test_a_party_does_not_excuse_the_other(room: CountRoom) -> None:
    handover = change(room)
    with pytest.raises(Refused, match="Another officer does"):
        services.excuse_giver(actor=room.cast.officer, handover=handover, excuse="Myself")


def test_a_forced_count_is_not_given_up(room: CountRoom) -> None:
    change(room)
    with pytest.raises(Refused, match="so it has to be counted"):
        services.cancel_count(actor=room.desk, count=room.begin(), note="No time")


def test_where_the_rule_says_so_nothing_is_issued_until_both_signed(room: CountRoom) -> None:
    copy, other = room.stock(1)[0], room.stock(1, cabinet=room.other)[0]
    handover = change(room, blocks_issuing=True)
    with pytest.raises(Refused, match=r"is to be counted first \(count 1\)"):
        room.give(copy)
    room.give(other)
    count = room.begin()
    room.scan(count, copy)
    room.close(count)
    with pytest.raises(Refused, match="not signed by both"):
        room.give(copy)
    sign(handover, "officer", "manager", room=room)
    assert room.give(copy).holder == room.holder


def test_issuing_goes_on_where_the_rule_does_not_hold_it_back(room: CountRoom) -> None:
    (copy,) = room.stock(1)
    change(room)
    assert room.give(copy).holder == room.holder


def test_a_cabinet_that_nobody_kept_is_signed_for_by_the_new_one_alone(room: CountRoom) -> None:
    room.rule(on_new_custodian=True)
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.cast.manager)
    room.close(room.begin())
    assert sign(CabinetHandover.objects.get(), "manager", room=room).done_at is not None


def test_a_cabinet_left_to_nobody_is_done_when_its_old_custodian_signed(room: CountRoom) -> None:
    room.cabinet.custodian = room.cast.officer
    room.cabinet.save()
    room.rule(on_new_custodian=True)
    keys.change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=None)
    room.close(room.begin())
    assert sign(CabinetHandover.objects.get(), "officer", room=room).done_at is not None


def test_the_cabinets_page_shows_it_until_it_is_done(room: CountRoom, client: Client) -> None:
    handover = change(room, blocks_issuing=True)
    client.force_login(room.cast.auditor)
    where = reverse("keys:cabinet", args=[room.cabinet.pk])
    assert "Nothing is handed out from it until then" in client.get(where).content.decode()
    assert "Count due" in client.get(reverse("keys:cabinets")).content.decode()
    room.close(room.begin())
    assert "not signed by both yet" in client.get(where).content.decode()
    sign(handover, "officer", "manager", room=room)
    assert "Count due" not in client.get(where).content.decode()
