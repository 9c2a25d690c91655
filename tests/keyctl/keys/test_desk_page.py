from collections import Counter
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.keys.models import Custody
from keyctl.keys.selectors import custodies_due, find
from keyctl.lib.moments import end_of_day
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, count_queries, rows_in, sign_in

TODAY = timezone.localdate


def text_of(client: Client, **query: str) -> str:
    return client.get(reverse("keys:desk"), query).content.decode()


@pytest.mark.parametrize(
    ("person", "status"),
    [
        ("desk", 200),
        ("locksmith", 200),
        ("officer", 200),
        ("auditor", 200),
        ("administrator", 200),
        ("manager", 403),
        ("requester", 403),
    ],
)
def test_the_page_is_for_those_who_care_for_keys(
    room: KeyRoom, client: Client, person: str, status: int
) -> None:
    sign_in(client, room.cast.everybody[person])
    assert client.get(reverse("keys:desk")).status_code == status


def test_a_stranger_sees_nothing_of_the_north(room: KeyRoom, client: Client) -> None:
    copy = room.held()
    sign_in(client, room.cast.stranger)
    for page in (text_of(client, show="out"), text_of(client, q=copy.serial), text_of(client, q="Holder")):
        assert str(copy) not in page
        assert room.holder.name not in page


def test_overdue_keys_come_first_and_later_ones_are_not_due(room: KeyRoom) -> None:
    for days in (5, 0, 30):
        room.give(room.in_stock(), due_at=end_of_day(TODAY() + timedelta(days=days)))
    late = room.held()
    Custody.objects.filter(copy=late).update(due_at=end_of_day(TODAY() - timedelta(days=2)))
    due = [custody.due_at for custody in custodies_due(room.desk, TODAY())]
    assert due == [end_of_day(TODAY() + timedelta(days=days)) for days in (-2, 0, 5)]


def test_an_overdue_key_is_marked_with_words(room: KeyRoom, client: Client) -> None:
    late = room.held()
    Custody.objects.filter(copy=late).update(due_at=end_of_day(TODAY() - timedelta(days=2)))
    assert "Overdue since" in text_of(sign_in(client, room.desk))


def test_what_is_out_and_what_is_in_stand_apart(room: KeyRoom, client: Client) -> None:
    out, stock = room.held(), room.in_stock()
    sign_in(client, room.desk)
    assert str(out) in text_of(client, show="out")
    assert str(stock) not in text_of(client, show="out")
    assert str(stock) in text_of(client, show="stock")


def test_a_copy_is_found_by_the_beginning_of_its_serial_however_it_is_typed(room: KeyRoom) -> None:
    copy = room.in_stock()
    assert find(room.desk, f" {copy.serial[:4].lower()}-{copy.serial[4:6]} ").copies == [copy]


def test_a_holder_is_found_by_a_part_of_the_name(room: KeyRoom) -> None:
    holder = factories.make_holder(room.site, name="Caretaker Seven")
    assert find(room.desk, "taker").holders == [holder]


def test_the_search_is_one_part_of_the_page(room: KeyRoom, client: Client) -> None:
    copy = room.in_stock()
    sign_in(client, room.desk)
    response = client.get(reverse("keys:desk"), {"q": copy.serial}, headers={"HX-Request": "true"})
    assert str(copy) in response.content.decode()
    assert "<html" not in response.content.decode()


def test_nothing_found_is_said(room: KeyRoom, client: Client) -> None:
    assert "Nothing found" in text_of(sign_in(client, room.desk), q="nobody at all")


@pytest.mark.parametrize("query", ["?show=out", "?show=stock", "?show=due", "?q=h"])
def test_the_number_of_queries_does_not_grow_with_the_rows(room: KeyRoom, client: Client, query: str) -> None:
    page = reverse("keys:desk") + query
    sign_in(client, room.desk)
    few, many = Counter[str](), Counter[str]()
    for counted, copies in ((few, 1), (many, 8)):
        for _ in range(copies):
            room.in_stock()
            holder = factories.make_holder(room.site)
            room.give(room.in_stock(), holder, due_at=end_of_day(TODAY()))
        counted["rows"], counted["queries"] = rows_in(client, page), count_queries(client, page)
    assert many["rows"] >= few["rows"] + 8
    assert many["queries"] == few["queries"]


def test_the_page_warns_against_stamping_the_symbol(room: KeyRoom, client: Client) -> None:
    assert "Do not stamp the symbol on a key" in text_of(sign_in(client, room.desk))
