"""The recovery list and a case, as the cast sees them."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.cores.models import Turn
from keyctl.keys.services import deactivate_holder
from keyctl.leavers.models import LeaverCase, LeaverRules
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import KeyRoom, answers, bare_key, count_queries, sign_in

READERS = {"desk", "officer", "auditor", "administrator"}
LIST = reverse("leavers:list")


def leaver(room: KeyRoom, name: str, *symbols: KeySymbol) -> LeaverCase:
    holder = factories.make_holder(room.site, name=name)
    for symbol in symbols:
        room.give(factories.make_copy(symbol, room.cabinet), holder)
    deactivate_holder(actor=room.desk, holder=holder)
    return LeaverCase.objects.get(holder=holder)


def critical_doors(room: KeyRoom, symbol: KeySymbol, count: int, door_class: str) -> None:
    for _ in range(count):
        door = factories.make_door(room.site, door_class=door_class)
        core = factories.make_core(
            actor=room.cast.locksmith, site=room.site, system=symbol.system, symbols=[symbol], pinned=False
        )
        factories.install(core, factories.make_housing(door=door))
        Turn.objects.create(core=core, symbol=symbol, operates=True, withdraws=False)


def test_a_case_is_read_by_the_desk_and_those_who_watch(room: KeyRoom) -> None:
    case = leaver(room, "Ada", room.symbol)
    found = answers(room.cast, "leavers:detail", case.pk)
    assert {name for name, status in found.items() if status == 200} == READERS
    assert found["stranger"] == 404


def test_the_gravest_comes_first_then_the_oldest(room: KeyRoom, client: Client) -> None:
    system = room.symbol.system
    master = bare_key(system, "AA", kind=KeySymbol.Kind.MASTER)
    control = bare_key(system, "CTR", kind=KeySymbol.Kind.CONTROL, level=None)
    critical, plain = bare_key(system, "AA2"), bare_key(system, "AA3")
    critical_doors(room, critical, 1, Door.DoorClass.CRITICAL)
    critical_doors(room, plain, 3, Door.DoorClass.ORDINARY)
    for name, symbol in {"plain": plain, "critical": critical, "master": master, "control": control}.items():
        leaver(room, name, symbol)
    older, newer = leaver(room, "older", room.symbol), leaver(room, "newer", room.symbol)
    LeaverCase.objects.filter(pk=older.pk).update(opened_at=timezone.now() - timedelta(days=9))
    sign_in(client, room.cast.officer)
    rows = client.get(LIST).context["rows"]
    names = [row.case.holder.name for row in rows]
    assert names == ["control", "master", "critical", "plain", "older", "newer"]
    assert [row.stake.doors for row in rows] == [0, 0, 1, 3, 0, 0]
    assert newer.is_open


def test_the_list_asks_as_much_for_many_as_for_few(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    leaver(room, "first", room.symbol)
    few = count_queries(client, LIST)
    for number in range(6):
        leaver(room, f"further {number}", room.symbol)
    assert count_queries(client, LIST) == few


def test_a_leaving_is_announced_paused_and_taken_back_on_pages(room: KeyRoom, client: Client) -> None:
    room.held()
    sign_in(client, room.desk)
    day = timezone.localdate() + timedelta(days=20)
    client.post(reverse("leavers:announce", args=[room.holder.pk]), {"leaves_on": day.isoformat()})
    case = LeaverCase.objects.get()
    assert "Last days announced" in client.get(LIST, {"show": "going"}).content.decode()
    said = {"version": case.version, "until": day.isoformat(), "reason": "On leave"}
    client.post(reverse("leavers:pause", args=[case.pk]), said)
    case.refresh_from_db()
    assert case.is_paused
    client.post(reverse("leavers:resume", args=[case.pk]), {"version": case.version})
    case.refresh_from_db()
    client.post(reverse("leavers:remind", args=[case.pk]), {"version": case.version})
    case.refresh_from_db()
    page = client.get(reverse("leavers:detail", args=[case.pk])).content.decode()
    assert "sent by hand" in page
    client.post(reverse("leavers:stay", args=[case.pk]), {"version": case.version})
    case.refresh_from_db()
    assert case.outcome == "stays"


@pytest.mark.parametrize("said", [{}, {"leaves_on": "2999-01-01", "has_left": "on"}])
def test_a_day_or_gone_but_not_both(room: KeyRoom, client: Client, said: dict[str, str]) -> None:
    sign_in(client, room.desk)
    response = client.post(reverse("leavers:announce", args=[room.holder.pk]), said)
    assert response.status_code == 422
    assert not LeaverCase.objects.exists()


def test_who_has_left_without_keys_leads_back_to_the_holder(room: KeyRoom, client: Client) -> None:
    sign_in(client, room.desk)
    response = client.post(reverse("leavers:announce", args=[room.holder.pk]), {"has_left": "on"})
    assert response.headers["Location"] == reverse("keys:holder", args=[room.holder.pk])


def test_the_officer_closes_with_a_reason_and_the_desk_does_not(room: KeyRoom, client: Client) -> None:
    case = leaver(room, "Ada", room.symbol)
    said = {"version": case.version, "reason": "The building is gone"}
    sign_in(client, room.desk)
    assert client.post(reverse("leavers:close", args=[case.pk]), said).status_code == 403
    sign_in(client, room.cast.officer)
    client.post(reverse("leavers:close", args=[case.pk]), said)
    page = client.get(reverse("leavers:detail", args=[case.pk])).content.decode()
    assert "The building is gone" in page


def test_an_older_page_is_told_and_shows_what_is(room: KeyRoom, client: Client) -> None:
    case = leaver(room, "Ada", room.symbol)
    sign_in(client, room.desk)
    response = client.post(reverse("leavers:remind", args=[case.pk]), {"version": 99})
    assert response.status_code == 422
    assert "changed while you looked" in response.content.decode()


def test_the_administrator_sets_the_rounds(cast: Cast, client: Client) -> None:
    sign_in(client, cast.administrator)
    said = {"lead_days": 7, "repeat_days": 3, "escalate_after": 1, "stop_after": 4}
    client.post(reverse("leavers:rules", args=[cast.north.pk]), said)
    rules = LeaverRules.objects.get(site=cast.north)
    assert (rules.lead_days, rules.repeat_days, rules.stop_after) == (7, 3, 4)
