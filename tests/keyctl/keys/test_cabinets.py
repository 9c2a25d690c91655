import pytest
from django.test import Client
from django.urls import reverse

from keyctl.keys import custodians, services
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.lib.errors import Refused
from tests import factories
from tests.keyctl.keys.keyroom import KeyRoom, allowed, answers, count_queries, sign_in


def test_those_who_care_for_keys_see_them(room: KeyRoom) -> None:
    everybody = allowed("locksmith", "desk", "officer", "auditor", "administrator")
    assert answers(room.cast, "keys:cabinet", room.cabinet.pk) == everybody


def test_desk_and_administrator_keep_them(room: KeyRoom) -> None:
    for page in ("keys:rename-cabinet", "keys:change-custodian"):
        assert answers(room.cast, page, room.cabinet.pk) == allowed("desk", "administrator")


def test_a_new_custodian_is_told_to_whom_it_concerns(room: KeyRoom, monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[Cabinet] = []
    monkeypatch.setattr(custodians, "_listeners", [lambda _actor, cabinet, _before: told.append(cabinet)])
    services.change_custodian(actor=room.desk, cabinet=room.cabinet, to=room.cast.locksmith)
    assert [(cabinet.pk, cabinet.custodian) for cabinet in told] == [(room.cabinet.pk, room.cast.locksmith)]
    with pytest.raises(Refused, match="already in the care of"):
        services.change_custodian(actor=room.desk, cabinet=room.cabinet, to=room.cast.locksmith)


def test_a_stranger_answers_for_no_cabinet(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="has no role at North site"):
        services.change_custodian(actor=room.desk, cabinet=room.cabinet, to=room.cast.stranger)


def test_two_cabinets_of_a_site_have_two_names(room: KeyRoom) -> None:
    other = services.open_cabinet(actor=room.desk, site=room.site, name=" Gate  lodge ")
    assert other.name == "Gate lodge"
    with pytest.raises(Refused, match="has a cabinet gate lodge already"):
        services.rename_cabinet(actor=room.desk, cabinet=room.cabinet, name="gate lodge")
    assert services.rename_cabinet(actor=room.desk, cabinet=other, name="GATE LODGE").name == "GATE LODGE"


def test_copies_hang_in_another_cabinet(room: KeyRoom, client: Client) -> None:
    first, second, stays = room.in_stock(), room.in_stock(), room.in_stock()
    other = factories.make_cabinet(room.site)
    facts = {"copies": [first.pk, second.pk], "cabinet": other.pk}
    answer = sign_in(client, room.desk).post(reverse("keys:move-copies", args=[room.cabinet.pk]), facts)
    assert answer.status_code == 302
    assert set(KeyCopy.objects.filter(cabinet=other)) == {first, second}
    assert KeyCopy.objects.get(pk=stays.pk).cabinet == room.cabinet


def test_only_what_hangs_in_a_cabinet_is_moved_and_within_its_site(room: KeyRoom) -> None:
    other, away = factories.make_cabinet(room.site), factories.make_cabinet(room.cast.south)
    for copy, cabinet, words in (
        (room.held(), other, "in no cabinet. Take it back first"),
        (room.lost(), other, "is lost, in no cabinet"),
        (room.in_stock(), room.cabinet, "already. Choose another cabinet"),
        (room.in_stock(), away, "is not a cabinet of North site"),
    ):
        with pytest.raises(Refused, match=words):
            services.move_copies(actor=room.desk, copies=[copy], cabinet=cabinet)


def test_the_number_of_queries_does_not_grow_with_cabinets_or_copies(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    pages = [reverse("keys:cabinets"), reverse("keys:cabinet", args=[room.cabinet.pk])]
    room.in_stock()
    factories.make_cabinet(room.site)
    few = [count_queries(client, page) for page in pages]
    for _ in range(5):
        room.in_stock()
        factories.make_cabinet(room.site)
    assert [count_queries(client, page) for page in pages] == few
