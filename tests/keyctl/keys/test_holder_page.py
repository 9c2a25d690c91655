from datetime import timedelta

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.keys import services
from keyctl.keys.selectors import held_by
from keyctl.lib.moments import end_of_day
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, count_queries, sign_in


def page_of(client: Client, pk: object) -> str:
    return client.get(reverse("keys:holder", args=[pk])).content.decode()


def test_those_who_care_for_keys_see_it(room: KeyRoom) -> None:
    everybody = allowed("locksmith", "desk", "officer", "auditor", "administrator")
    assert answers(room.cast, "keys:holder", room.holder.pk) == everybody


def test_it_shows_what_is_held_and_what_was(room: KeyRoom, client: Client) -> None:
    held, past = room.held(), room.held()
    services.take_back(actor=room.desk, copy=past, cabinet=room.cabinet)
    now, _, before = page_of(sign_in(client, room.desk), room.holder.pk).partition("Keys held before")
    assert str(held) in now
    assert str(past) in before
    assert str(past) not in now
    assert list(held_by(room.holder)) == [held]


def test_a_holder_sees_their_own_keys_but_not_which_keys_they_are(room: KeyRoom, client: Client) -> None:
    own = factories.make_holder(room.site, user=room.cast.requester)
    copy = room.give(room.in_stock(), own)
    page = page_of(sign_in(client, room.cast.requester), own.pk)
    assert str(copy) in page
    assert "AA1" not in page


def test_the_day_a_key_is_due_stands_beside_it(room: KeyRoom, client: Client) -> None:
    due = timezone.localdate() + timedelta(days=4)
    room.give(room.in_stock(), due_at=end_of_day(due))
    assert f"{due:%-d %b %Y}" in page_of(sign_in(client, room.desk), room.holder.pk)


def test_the_number_of_queries_does_not_grow_with_the_keys(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    page = reverse("keys:holder", args=[room.holder.pk])
    for _ in range(2):
        room.held()
    services.take_back(actor=room.desk, copy=room.held(), cabinet=room.cabinet)
    few = count_queries(client, page)
    for _ in range(5):
        room.held()
        services.take_back(actor=room.desk, copy=room.held(), cabinet=room.cabinet)
    assert count_queries(client, page) == few
