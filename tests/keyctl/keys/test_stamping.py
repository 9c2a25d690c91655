import pytest
from django.test import Client
from django.urls import reverse

from keyctl.keys import services
from keyctl.keys.models import DeskSettings, KeyCopy
from keyctl.lib.errors import Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, sign_in


def cut(room: KeyRoom, stamp: str, count: int = 1) -> list[str]:
    made = services.cut_copies(
        actor=room.desk, symbol=room.symbol, site=room.site, cabinet=room.cabinet, count=count, stamp=stamp
    )
    return [copy.stamp for copy in made]


def allow(room: KeyRoom, rule: str) -> None:
    DeskSettings.objects.create(site=room.site, stamping=rule)


def test_by_default_the_serial_and_nothing_else(room: KeyRoom) -> None:
    assert cut(room, "") == [""]
    with pytest.raises(Refused, match="stamped with its serial only"):
        cut(room, "WHITE 7")


def test_a_text_of_ones_own_where_the_site_allows_it(room: KeyRoom) -> None:
    allow(room, "free")
    assert cut(room, " white  7 ") == ["white 7"]
    assert cut(room, "Blue", count=3) == ["Blue/1", "Blue/2", "Blue/3"]
    with pytest.raises(Refused, match="is stamped on another key"):
        cut(room, "Blue", count=2)


@pytest.mark.parametrize("text", ["AA1", "aa1", "x AA1", "A-A 1", "KEYAA1X"])
def test_it_never_holds_the_symbol(room: KeyRoom, text: str) -> None:
    allow(room, "free")
    with pytest.raises(Refused, match="holds the key's symbol"):
        cut(room, text)


@pytest.mark.parametrize("text", ["B-101", "b101", "B 101", "spare B.101", "XB101X", "7"])
def test_nor_a_door_number(room: KeyRoom, text: str) -> None:
    allow(room, "free")
    for number in ("B-101", "7"):
        factories.make_door(room.site, number=number)
    with pytest.raises(Refused, match="holds a door number"):
        cut(room, text)


def test_a_short_number_inside_a_word_is_chance(room: KeyRoom) -> None:
    allow(room, "free")
    factories.make_door(room.site, number="7")
    factories.make_door(room.cast.south, number="Q77")
    assert cut(room, "Q77") == ["Q77"]


def test_unless_the_site_says_otherwise(room: KeyRoom) -> None:
    allow(room, "any")
    assert cut(room, "AA1") == ["AA1"]


def test_the_page_asks_only_where_it_may(room: KeyRoom, client: Client) -> None:
    page = reverse("keys:cut", args=[room.site.pk])
    sign_in(client, room.desk)
    assert "Stamped with" not in client.get(page).content.decode()
    allow(room, "free")
    assert "Stamped with" in client.get(page).content.decode()
    facts = {"system": room.symbol.system.pk, "name": "AA1", "cabinet": room.cabinet.pk, "count": 1}
    client.post(page, facts | {"stamp": "White"})
    assert KeyCopy.objects.get().stamp == "White"
