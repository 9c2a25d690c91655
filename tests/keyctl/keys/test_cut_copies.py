import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.selectors import history_of
from keyctl.keys import services
from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, bare_key, bare_system, sign_in


def cut(room: KeyRoom, **facts: object) -> list[KeyCopy]:
    given = {"symbol": room.symbol, "site": room.site, "cabinet": room.cabinet, "count": 3} | facts
    return services.cut_copies(actor=room.cast.locksmith, **given)  # type: ignore[arg-type]


def test_locksmith_and_key_desk_cut_and_nobody_else(room: KeyRoom) -> None:
    assert answers(room.cast, "keys:cut", room.site.pk) == allowed("locksmith", "desk")


def test_copies_go_into_the_cabinet_each_with_a_serial_of_its_own(room: KeyRoom) -> None:
    copies = cut(room)
    stored = KeyCopy.objects.filter(symbol=room.symbol, state="in-cabinet", cabinet=room.cabinet)
    assert set(stored) == set(copies)
    assert len({copy.serial for copy in copies}) == 3


def test_every_copy_knows_when_it_was_cut_and_by_whom(room: KeyRoom) -> None:
    (copy,) = cut(room, count=1)
    (event,) = history_of(copy)
    assert (event.verb, event.actor) == ("key.cut", room.cast.locksmith)
    assert event.sentence == f"cut 1 copy of AA1 ({room.symbol.system.code}) into {room.cabinet}"


@pytest.mark.parametrize("count", [0, -1, 101])
def test_it_refuses_no_copies_and_too_many(room: KeyRoom, count: int) -> None:
    with pytest.raises(Refused, match="Cut between 1 and 100 copies at a time"):
        cut(room, count=count)


def test_it_refuses_a_key_of_a_system_that_the_site_does_not_use(room: KeyRoom) -> None:
    foreign = bare_key(bare_system(room.cast.south, actor=room.cast.stranger), "BB1")
    with pytest.raises(Refused, match="is not used at North site"):
        cut(room, symbol=foreign)


def test_it_refuses_a_cabinet_of_another_site(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="is not a cabinet of North site"):
        cut(room, cabinet=factories.make_cabinet(room.cast.south))


def test_the_page_cuts_the_key_that_system_and_symbol_name(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    facts = {"system": room.symbol.system_id, "name": "aa1", "cabinet": room.cabinet.pk, "count": 2}
    response = client.post(reverse("keys:cut", args=[room.site.pk]), facts, follow=True)
    for copy in KeyCopy.objects.filter(symbol=room.symbol):
        assert str(copy) in response.content.decode()
    assert room.symbol.copies.count() == 2


def test_the_page_says_that_a_system_has_no_such_key(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    facts = {"system": room.symbol.system_id, "name": "ZZ9", "cabinet": room.cabinet.pk, "count": 2}
    response = client.post(reverse("keys:cut", args=[room.site.pk]), facts)
    assert response.status_code == 422
    assert "has no key called ZZ9" in response.content.decode()


def test_a_link_may_name_the_key_and_a_bad_one_names_none(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    page = reverse("keys:cut", args=[room.site.pk])
    assert 'value="AA1"' in client.get(page, {"symbol": str(room.symbol.pk)}).content.decode()
    assert 'value="AA1"' not in client.get(page, {"symbol": "nonsense"}).content.decode()
