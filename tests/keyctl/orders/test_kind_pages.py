"""The pages of the other kinds: opening them, their lines, what is said of an order as a whole."""

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.orders import services
from keyctl.orders.checklists import points_of
from keyctl.orders.models import OrderLine, WorkOrder
from tests import factories
from tests.keyctl.orders.workshop import Workshop, only_line


@pytest.fixture
def smith(shop: Workshop, client: Client) -> Client:
    client.force_login(shop.smith)
    return client


def page(client: Client, name: str, *args: object, query: str = "") -> str:
    answer = client.get(reverse(f"orders:{name}", args=args) + query)
    assert answer.status_code == 200, answer
    return answer.content.decode()


def send(client: Client, name: str, thing: Any, **said: Any) -> tuple[int, str]:
    answer = client.post(reverse(f"orders:{name}", args=[thing.pk]), said)
    return answer.status_code, answer.content.decode()


def opened(client: Client, name: str, **said: Any) -> WorkOrder:
    answer = client.post(reverse(f"orders:{name}"), {"title": "Work"} | said)
    assert answer.status_code == 302, re.findall(r'class="error">(.*?)<', answer.content.decode())
    return WorkOrder.objects.get(pk=re.findall(r"/orders/([0-9a-f-]{36})/", answer["Location"])[0])


def test_an_inspection_is_opened_checked_and_followed_up(smith: Client, shop: Workshop) -> None:
    housing, _ = shop.furnished()
    order = opened(smith, "new-inspect", doors=[housing.door.pk])
    line = only_line(order)
    assert "seated and flush" in page(smith, "check", line.pk)
    points = {f"point-{point.key}": "good" for point in points_of(line)}
    assert send(smith, "check", line, **(points | {"point-turns": ""}))[0] == 422
    assert send(smith, "check", line, **(points | {"point-turns": "bad"}))[0] == 302
    assert "Order another core" in page(smith, "check", line.pk)
    assert send(smith, "follow-up", line, kind="swap")[0] == 302
    assert WorkOrder.objects.get(arose_from=line).kind == "swap"
    assert "follows" in page(smith, "detail", order.pk)


def test_a_search_on_a_new_inspection_keeps_what_is_ticked(smith: Client, shop: Workshop) -> None:
    ticked, other = (factories.make_housing(shop.site).door for _ in range(2))
    said = {"doors": [ticked.pk], "q": other.number, "find": "1"}
    answer = smith.post(reverse("orders:new-inspect"), said).content.decode()
    assert re.search(rf'value="{ticked.pk}" checked', answer)
    assert not WorkOrder.objects.exists()


def test_a_door_is_shut_opened_again_and_checked(smith: Client, shop: Workshop) -> None:
    housing, own = shop.furnished()
    until = (timezone.localdate() + timedelta(days=2)).isoformat()
    order = opened(smith, "new-lock-out", housings=[housing.pk], asked_by="Facilities", until=until)
    line = only_line(order)
    swap_through(smith, line, shop.core(nth=1).tag)
    assert "Open it again" in page(smith, "detail", order.pk)
    swap_through(smith, line, own.tag)
    assert housing.cores.get() == own
    points = {f"point-{point.key}": "good" for point in points_of(line)}
    assert send(smith, "check", line, **points)[0] == 302
    order.refresh_from_db()
    assert order.state == "done"


def swap_through(client: Client, line: OrderLine, tag: str) -> None:
    """The three steps of the guided swap, with what its pages carry."""
    here = reverse("orders:swap", args=[line.pk])
    assert client.post(here + "?step=door", {"tag": tag}).status_code == 302
    exchange = client.get(here + "?step=exchange").content.decode()
    facts = dict(re.findall(r'type="hidden" name="(core_\w+)"(?: value="([^"]*)")?', exchange))
    checks = dict.fromkeys(("operating_key_turned", "control_key_came_out", "egress_and_latch_tried"), "on")
    answer = client.post(here + "?step=checks", facts | checks | {"put_at": "bench"})
    assert answer.status_code == 302, re.findall(r'class="error">(.*?)<', answer.content.decode())


def test_an_officer_gives_the_word_on_the_page_of_the_order(shop: Workshop, client: Client) -> None:
    housing, _ = shop.furnished()
    order = services.open_lock_out(
        actor=shop.smith,
        site=shop.site,
        title="Pipe",
        housings=[housing],
        asked_by="Facilities",
        until=timezone.localdate(),
    )
    client.force_login(shop.smith)
    assert "Give your word" not in page(client, "detail", order.pk)
    assert send(client, "allow", order, word="It will do")[0] == 403
    client.force_login(shop.cast.officer)
    assert "Give your word" in page(client, "detail", order.pk)
    assert send(client, "allow", order, word="")[0] == 422
    assert send(client, "allow", order, word="Stair B is open")[0] == 302
    assert "Stair B is open" in page(client, "detail", order.pk)


def test_a_core_to_decode_leads_to_the_bench(smith: Client, shop: Workshop) -> None:
    core = shop.core(pinned=False)
    order = opened(smith, "new-decode", cores=[core.pk])
    assert reverse("bench:decode") + f"?core={core.pk}" in page(smith, "detail", order.pk)


def test_a_lost_control_key_leads_to_its_case(smith: Client, shop: Workshop) -> None:
    order = opened(smith, "new-recover", system=shop.system.pk)
    assert reverse("recovery:new") in page(smith, "detail", order.pk)


def test_an_area_is_looked_at_and_then_opened(smith: Client, shop: Workshop) -> None:
    housing, _ = shop.furnished()
    for _ in range(2):
        shop.core(pinned=False)
    area = {"area": f"building-{housing.door.building.pk}", "keys": "AA1"}
    key = factories.change_key(shop.system, 1)
    area["keys"] = key.symbol
    looked = smith.post(reverse("orders:new-rekey"), {"title": "Wing", "find": "1"} | area).content.decode()
    assert "1 lock" in looked
    assert not WorkOrder.objects.exists()
    order = opened(smith, "new-rekey", **area)
    shown = page(smith, "detail", order.pk)
    assert [part.kind for part in order.parts.order_by("number")] == ["pin", "swap"]
    assert all(str(part) in shown for part in order.parts.all())


@pytest.mark.parametrize(
    ("wrong", "words"),
    [({"keys": "ZZ99"}, "has no key ZZ99"), ({"only": "9.99"}, "No lock of the area stands at 9.99")],
)
def test_an_area_of_unknown_doors_or_keys_is_told(
    smith: Client, shop: Workshop, wrong: dict[str, str], words: str
) -> None:
    housing, _ = shop.furnished()
    said = {"title": "Wing", "area": f"floor-{housing.door.floor_id}", "keys": "AA1"} | wrong
    answer = smith.post(reverse("orders:new-rekey"), said)
    assert (answer.status_code, words in answer.content.decode()) == (422, True)


def test_the_page_moves_an_order_on(smith: Client, shop: Workshop) -> None:
    order = shop.pin_order()
    assert send(smith, "take", order)[0] == 302
    assert send(smith, "wait", order, reason="")[0] == 422
    assert send(smith, "wait", order, reason="New springs")[0] == 302
    assert "New springs" in page(smith, "list")
    assert send(smith, "go-on", order)[0] == 302
    order.refresh_from_db()
    assert (order.state, order.assigned_to) == ("under_way", shop.smith)
    assert send(smith, "assign", order, to="")[0] == 302


def test_a_door_in_vain_is_told_at_the_swap_and_at_the_checklist(smith: Client, shop: Workshop) -> None:
    line = only_line(shop.swap_order())
    assert send(smith, "unreached", line, reason="")[0] == 302
    assert send(smith, "unreached", line, reason="In use")[0] == 302
    assert "In use" in page(smith, "detail", line.order_id)


FILTERS = [
    ("whose=mine", {"mine"}),
    ("whose=nobody", {"late", "soon", "done"}),
    ("due=late", {"late"}),
    ("due=week", {"late", "soon"}),
    ("state=unfinished", {"mine", "late", "soon"}),
]


@pytest.mark.parametrize(("query", "titles"), FILTERS)
def test_the_list_is_narrowed(smith: Client, shop: Workshop, query: str, titles: set[str]) -> None:
    today = timezone.localdate()
    mine = shop.pin_order(title="mine")
    services.assign_order(actor=shop.smith, order=mine, to=shop.smith)
    for title, days in (("late", -1), ("soon", 7)):
        order = shop.pin_order(title=title)
        WorkOrder.objects.filter(pk=order.pk).update(due_on=today + timedelta(days=days))
    services.cancel_order(actor=shop.smith, order=shop.pin_order(title="done"))
    shown = page(smith, "list", query=f"?{query}")
    assert set(re.findall(r'data-label="For">(\w+)<', shown)) == titles


def test_the_way_past_the_doors_runs_by_building_and_floor(smith: Client, shop: Workshop) -> None:
    floor = factories.make_floor(shop.site)
    doors = [factories.make_door(floor=floor, number=number) for number in ("2.02", "2.01")]
    order = services.open_inspect_order(actor=shop.smith, site=shop.site, title="Yearly", doors=doors)
    assert "No door waits" in page(smith, "route")
    services.assign_order(actor=shop.smith, order=order, to=shop.smith)
    shown = page(smith, "route")
    assert shown.index(str(doors[1])) < shown.index(str(doors[0]))
    assert str(doors[0]) in page(smith, "route", query="?whose=all")
