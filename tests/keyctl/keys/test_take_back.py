import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.keys import services
from keyctl.keys.models import Custody, KeyCopy
from keyctl.lib.errors import Conflict, Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, sign_in


def take_back(room: KeyRoom, copy: KeyCopy) -> KeyCopy:
    return services.take_back(actor=room.desk, copy=copy, cabinet=room.cabinet)


def test_only_the_key_desk_takes_back(room: KeyRoom) -> None:
    assert answers(room.cast, "keys:take-back", room.held().pk) == allowed("desk")


def test_the_copy_is_in_the_cabinet_and_its_line_is_ended(room: KeyRoom) -> None:
    copy = take_back(room, room.held())
    copy.refresh_from_db()
    custody = Custody.objects.get(copy=copy)
    assert (copy.state, copy.cabinet, copy.holder) == ("in-cabinet", room.cabinet, None)
    assert custody.ended_by == room.desk
    assert custody.ended_at is not None
    assert custody.ended_at >= custody.out_at


def test_the_holder_remembers_that_it_came_back(room: KeyRoom) -> None:
    copy = take_back(room, room.held())
    event = history_of(room.holder)[0]
    assert event.verb == "key.taken_back"
    assert event.sentence == f"took back copy {copy} of AA1 from {room.holder} into {room.cabinet}"


def test_a_lost_copy_that_was_found_comes_back(room: KeyRoom) -> None:
    copy = take_back(room, room.lost())
    assert copy.state == "in-cabinet"
    assert history_of(copy)[0].verb == "key.found"


def test_a_copy_in_a_cabinet_cannot_come_back(room: KeyRoom) -> None:
    with pytest.raises(Refused, match=f"is not out: it is in {room.cabinet}"):
        take_back(room, room.in_stock())


def test_a_destroyed_copy_cannot_come_back(room: KeyRoom) -> None:
    with pytest.raises(Refused, match=r"was destroyed\. Look at the serial again"):
        take_back(room, room.destroyed())


def test_it_refuses_a_cabinet_of_another_site(room: KeyRoom) -> None:
    foreign = factories.make_cabinet(room.cast.south)
    with pytest.raises(Refused, match="is not a cabinet of North site"):
        services.take_back(actor=room.desk, copy=room.held(), cabinet=foreign)


def test_an_old_page_does_not_end_a_later_line(room: KeyRoom) -> None:
    copy = room.held()
    seen = copy.version
    room.give(take_back(room, copy))
    with pytest.raises(Conflict, match="was moved while you looked at it"):
        services.take_back(actor=room.desk, copy=copy, cabinet=room.cabinet, version=seen)
    assert Custody.objects.filter(ended_at__isnull=True).count() == 1


def test_the_page_takes_it_back(room: KeyRoom, client: Client) -> None:
    copy = room.held()
    sign_in(client, room.desk)
    facts = {"cabinet": room.cabinet.pk, "version": copy.version}
    response = client.post(reverse("keys:take-back", args=[copy.pk]), facts)
    assert response.status_code == 302
    assert KeyCopy.objects.get(pk=copy.pk).state == "in-cabinet"
