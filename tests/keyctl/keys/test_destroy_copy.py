import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.keys import services
from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Refused
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, sign_in


def destroy(room: KeyRoom, copy: KeyCopy) -> KeyCopy:
    return services.destroy_copy(actor=room.cast.locksmith, copy=copy, reason="Worn.")


def test_locksmith_and_key_desk_destroy(room: KeyRoom) -> None:
    assert answers(room.cast, "keys:destroy", room.in_stock().pk) == allowed("locksmith", "desk")


def test_a_destroyed_copy_is_nowhere(room: KeyRoom) -> None:
    copy = destroy(room, room.in_stock())
    copy.refresh_from_db()
    assert (copy.state, copy.holder, copy.cabinet) == ("destroyed", None, None)


def test_history_remembers_it(room: KeyRoom) -> None:
    copy = destroy(room, room.in_stock())
    event = history_of(copy)[0]
    assert (event.verb, event.sentence) == ("key.destroyed", f"destroyed copy {copy} of AA1")
    assert event.detail == {"note": "Worn."}


def test_a_held_copy_is_taken_back_first(room: KeyRoom) -> None:
    with pytest.raises(Refused, match=rf"is with {room.holder}\. Take it back first"):
        destroy(room, room.held())


def test_a_lost_copy_is_not_there_to_be_destroyed(room: KeyRoom) -> None:
    with pytest.raises(Refused, match=r"is lost\. When it is found, take it back first"):
        destroy(room, room.lost())


def test_a_copy_is_destroyed_once(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="is already destroyed"):
        destroy(room, room.destroyed())


def test_the_page_destroys_it(room: KeyRoom, client: Client) -> None:
    copy = room.in_stock()
    sign_in(client, room.desk)
    response = client.post(
        reverse("keys:destroy", args=[copy.pk]), {"version": copy.version, "reason": "Worn."}
    )
    assert response.status_code == 302
    assert KeyCopy.objects.get(pk=copy.pk).state == "destroyed"
