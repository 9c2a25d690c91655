from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.audit.selectors import history_of
from keyctl.keys import services
from keyctl.keys.models import Custody, KeyCopy
from keyctl.lib.errors import Conflict, Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, sign_in


def test_only_the_key_desk_hands_out(room: KeyRoom) -> None:
    assert answers(room.cast, "keys:hand-out", room.in_stock().pk) == allowed("desk")


def test_the_copy_is_with_the_holder_and_in_the_register(room: KeyRoom) -> None:
    copy, due = room.in_stock(), timezone.now() + timedelta(days=3)
    custody = services.hand_out(
        actor=room.desk, copy=copy, holder=room.holder, signed_as=" Holder One ", due_at=due
    )
    copy.refresh_from_db()
    assert (copy.state, copy.holder, copy.cabinet) == ("held", room.holder, None)
    assert (custody.signed_as, custody.due_at, custody.ended_at) == ("Holder One", due, None)
    assert custody.handed_out_by == room.desk


def test_copy_key_and_holder_remember_it(room: KeyRoom) -> None:
    copy = room.held()
    for thing in (copy, copy.symbol, room.holder):
        event = history_of(thing)[0]
        assert (event.verb, event.actor) == ("key.handed_out", room.desk)
        assert event.sentence == f"handed out copy {copy} of AA1 to {room.holder}"


def test_a_copy_that_is_out_stays_out(room: KeyRoom) -> None:
    copy = room.held()
    with pytest.raises(Refused, match=rf"already out, with {room.holder}\. Take it back first"):
        room.give(copy)
    assert Custody.objects.count() == 1


def test_a_lost_copy_cannot_be_handed_out(room: KeyRoom) -> None:
    with pytest.raises(Refused, match=r"is reported lost\. If it was found, take it back"):
        room.give(room.lost())


def test_a_destroyed_copy_cannot_be_handed_out(room: KeyRoom) -> None:
    with pytest.raises(Refused, match=r"was destroyed\. Hand out another copy"):
        room.give(room.destroyed())


def test_a_holder_who_no_longer_receives_keys_gets_none(room: KeyRoom) -> None:
    gone = factories.make_holder(room.site, is_active=False)
    with pytest.raises(Refused, match="no longer receives keys"):
        room.give(room.in_stock(), gone)


def test_a_holder_of_another_site_gets_none(room: KeyRoom) -> None:
    foreign = factories.make_holder(room.cast.south)
    with pytest.raises(Refused, match="is a holder at South site, and the copy belongs to North site"):
        room.give(room.in_stock(), foreign)


def test_nobody_hands_a_key_to_themselves(room: KeyRoom) -> None:
    own = factories.make_holder(room.site, user=room.desk)
    with pytest.raises(Refused, match="Nobody hands a key to themselves"):
        room.give(room.in_stock(), own)


def test_a_signature_is_needed(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="Nobody has signed"):
        room.give(room.in_stock(), signed_as="  ")


def test_the_day_to_bring_it_back_is_not_past(room: KeyRoom) -> None:
    with pytest.raises(Refused, match=r"is past\. Choose a later day"):
        room.give(room.in_stock(), due_at=timezone.now() - timedelta(hours=1))


def test_a_page_that_showed_another_state_is_told(room: KeyRoom) -> None:
    copy = room.in_stock()
    seen = copy.version
    services.take_back(actor=room.desk, copy=room.give(copy), cabinet=room.cabinet)
    with pytest.raises(Conflict, match="was moved while you looked at it"):
        room.give(copy, version=seen)


def test_the_page_finds_the_holder_by_a_part_of_the_name(room: KeyRoom, client: Client) -> None:
    copy = room.in_stock()
    sign_in(client, room.desk)
    holder = factories.make_holder(room.site, name="Caretaker Seven")
    facts = {"holder": "taker sev", "signed_as": "Seven", "version": copy.version}
    response = client.post(reverse("keys:hand-out", args=[copy.pk]), facts)
    assert response.status_code == 302
    assert KeyCopy.objects.get(pk=copy.pk).holder == holder


def test_the_page_asks_again_where_several_holders_answer(room: KeyRoom, client: Client) -> None:
    copy = room.in_stock()
    sign_in(client, room.desk)
    for name in ("Caretaker Seven", "Caretaker Eight"):
        factories.make_holder(room.site, name=name)
    facts = {"holder": "caretaker", "signed_as": "Seven", "version": copy.version}
    response = client.post(reverse("keys:hand-out", args=[copy.pk]), facts)
    assert response.status_code == 422
    assert "Several holders answer to “caretaker”: Caretaker Eight, Caretaker Seven" in (
        response.content.decode()
    )


def test_the_page_shows_what_the_service_refuses(room: KeyRoom, client: Client) -> None:
    copy = room.held()
    sign_in(client, room.desk)
    facts = {"holder": room.holder.name, "signed_as": "One", "version": copy.version}
    response = client.post(reverse("keys:hand-out", args=[copy.pk]), facts)
    assert response.status_code == 422
    assert "is already out, with" in response.content.decode()
