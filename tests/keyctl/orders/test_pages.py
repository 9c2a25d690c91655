"""The list of orders, one order, and the pages that open a new one."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.orders.workshop import Workshop, only_line

READERS = ["locksmith", "manager", "officer", "auditor", "administrator"]
NEW_PIN, NEW_SWAP = "orders:new-pin", "orders:new-swap"


@pytest.fixture
def smith(shop: Workshop, client: Client) -> Client:
    client.force_login(shop.smith)
    return client


def text(client: Client, name: str, *args: object, query: str = "", **headers: str) -> str:
    answer = client.get(reverse(name, args=args) + query, headers=headers)
    assert answer.status_code == 200, answer
    return answer.content.decode()


@pytest.mark.parametrize("who", READERS)
def test_everybody_who_reads_orders_sees_the_list_and_an_order(
    shop: Workshop, client: Client, who: str
) -> None:
    order = shop.pin_order()
    client.force_login(shop.cast.everybody[who])
    assert f"Order {order.number}" in text(client, "orders:list")
    assert "Bench work" in text(client, "orders:detail", order.pk)


@pytest.mark.parametrize("who", ["desk", "requester"])
def test_others_may_not_look(shop: Workshop, client: Client, who: str) -> None:
    client.force_login(shop.cast.everybody[who])
    assert client.get(reverse("orders:list")).status_code == 403
    assert client.get(reverse("orders:detail", args=[shop.pin_order().pk])).status_code == 403


def test_a_foreign_order_is_not_found_and_not_listed(shop: Workshop, client: Client) -> None:
    order = shop.pin_order()
    client.force_login(shop.cast.stranger)
    assert client.get(reverse("orders:detail", args=[order.pk])).status_code == 404
    assert "Bench work" not in text(client, "orders:list")


def test_open_orders_stand_first(shop: Workshop, smith: Client) -> None:
    first, second = shop.pin_order(), shop.pin_order()
    services.cancel_order(actor=shop.smith, order=second)
    page = text(smith, "orders:list")
    assert page.index(str(first)) < page.index(str(second))


def test_the_list_is_filtered_by_state_and_kind(shop: Workshop, smith: Client) -> None:
    pins, swaps = shop.pin_order(), shop.swap_order()
    assert str(swaps) not in text(smith, "orders:list", query="?kind=pin")
    assert str(pins) not in text(smith, "orders:list", query="?kind=swap&state=open")
    assert "No order like this" in text(smith, "orders:list", query="?state=done")


def test_an_unknown_filter_filters_nothing(shop: Workshop, smith: Client) -> None:
    assert str(shop.pin_order()) in text(smith, "orders:list", query="?state=lost&page=x")


def test_htmx_gets_the_table_without_the_frame(shop: Workshop, smith: Client) -> None:
    shop.pin_order()
    part = text(smith, "orders:list", query="?kind=pin", **{"HX-Request": "true"})
    assert "<table" in part
    assert "<html" not in part


def test_a_long_list_has_pages(shop: Workshop, smith: Client) -> None:
    for _ in range(26):
        shop.swap_order()
    assert "page 1 of 2" in text(smith, "orders:list")
    assert "Order 1<" in text(smith, "orders:list", query="?page=2")


def test_the_number_of_queries_does_not_grow_with_the_lines(shop: Workshop, smith: Client) -> None:
    def queries(order: WorkOrder) -> int:
        with CaptureQueriesContext(connection) as seen:
            text(smith, "orders:detail", order.pk)
        return len(seen)

    housings = [shop.housing() for _ in range(6)]
    assert queries(shop.swap_order(*housings[:1])) == queries(shop.swap_order(*housings[1:]))


def test_readers_see_no_button(shop: Workshop, client: Client) -> None:
    order = shop.pin_order()
    client.force_login(shop.cast.auditor)
    page = text(client, "orders:detail", order.pk)
    assert "Pin this core" not in page
    assert "Cancel the order" not in page


def test_a_locksmith_pins_a_core_by_its_button(shop: Workshop, smith: Client) -> None:
    line = only_line(shop.pin_order())
    answer = smith.post(reverse("orders:pin-line", args=[line.pk]), follow=True)
    assert "is pinned in the records" in answer.content.decode()
    line.refresh_from_db()
    assert line.state == OrderLine.State.DONE


def test_a_locksmith_cancels_an_order_by_its_button(shop: Workshop, smith: Client) -> None:
    order = shop.pin_order()
    smith.post(reverse("orders:cancel", args=[order.pk]))
    order.refresh_from_db()
    assert order.state == WorkOrder.State.CANCELLED


@pytest.mark.parametrize(("who", "status"), [("manager", 403), ("stranger", 404)])
def test_the_buttons_are_closed_to_others(shop: Workshop, client: Client, who: str, status: int) -> None:
    line = only_line(shop.pin_order())
    client.force_login(shop.cast.everybody[who])
    assert client.post(reverse("orders:pin-line", args=[line.pk])).status_code == status
    assert client.post(reverse("orders:cancel", args=[line.order_id])).status_code == status


def test_a_second_cancel_gets_a_clear_page(shop: Workshop, smith: Client) -> None:
    url = reverse("orders:cancel", args=[shop.pin_order().pk])
    smith.post(url)
    answer = smith.post(url)
    assert answer.status_code == 409
    assert "already cancelled" in answer.content.decode()


def test_the_pin_page_offers_what_lies_on_the_bench_or_is_not_pinned(shop: Workshop, smith: Client) -> None:
    waiting, (_, installed) = shop.core(pinned=False), shop.furnished()
    taken = only_line(shop.pin_order()).core
    page = text(smith, NEW_PIN)
    assert str(waiting) in page
    assert str(installed) not in page
    assert str(taken) not in page


def test_the_pin_page_offers_unpinned_cores_first(shop: Workshop, smith: Client) -> None:
    pinned, raw = [shop.core() for _ in range(4)], shop.core(pinned=False)
    page = text(smith, NEW_PIN)
    assert page.index(str(raw)) < min(page.index(str(core)) for core in pinned)


def test_the_pin_page_opens_an_order(shop: Workshop, smith: Client) -> None:
    core = shop.core(pinned=False)
    smith.post(reverse(NEW_PIN), {"title": "Spares", "due_on": "2030-01-31", "cores": [core.pk]})
    order = WorkOrder.objects.get()
    assert (order.title, only_line(order).core, str(order.due_on)) == ("Spares", core, "2030-01-31")


def test_a_search_keeps_what_was_typed_and_ticked(shop: Workshop, smith: Client) -> None:
    ticked, sought, other = shop.core(), shop.core(), shop.core()
    said = {"title": "Spares", "cores": [ticked.pk], "q": sought.tag[:6], "find": "1"}
    page = smith.post(reverse(NEW_PIN), said).content.decode()
    assert 'value="Spares"' in page
    assert f'value="{ticked.pk}" checked' in page
    assert str(sought) in page
    assert str(other) not in page
    assert not WorkOrder.objects.exists()


def test_cores_are_found_by_the_symbol_they_are_keyed_to(shop: Workshop, smith: Client) -> None:
    symbol = factories.change_key(shop.system, 0)
    wanted, other = shop.core(nth=0), shop.core(nth=3)
    page = smith.post(reverse(NEW_PIN), {"q": str(symbol), "find": "1"}).content.decode()
    assert str(wanted) in page
    assert str(other) not in page


def test_an_order_without_a_core_is_not_opened_and_says_so(shop: Workshop, smith: Client) -> None:
    answer = smith.post(reverse(NEW_PIN), {"title": "Spares"})
    assert answer.status_code == 422
    assert "Choose at least one core" in answer.content.decode()


def test_a_core_of_another_site_is_not_a_choice(shop: Workshop, smith: Client) -> None:
    answer = smith.post(reverse(NEW_PIN), {"title": "Spares", "cores": [shop.foreign_core().pk]})
    assert answer.status_code == 422
    assert not WorkOrder.objects.exists()


def test_the_swap_page_finds_doors_by_every_word(shop: Workshop, smith: Client) -> None:
    sought = shop.housing(door=factories.make_door(shop.site, number="E-1.04", name="Archive"))
    other = shop.housing(door=factories.make_door(shop.site, number="E-1.05", name="Archive"))
    page = smith.post(reverse(NEW_SWAP), {"q": "archive 1.04", "find": "1"}).content.decode()
    assert str(sought) in page
    assert str(other) not in page


def test_the_swap_page_opens_an_order_for_several_doors(shop: Workshop, smith: Client) -> None:
    housings = [shop.housing(), shop.housing()]
    answer = smith.post(reverse(NEW_SWAP), {"title": "Ground floor", "housings": [h.pk for h in housings]})
    order = WorkOrder.objects.get()
    assert answer["Location"] == reverse("orders:detail", args=[order.pk])
    assert order.lines.count() == 2


def test_from_a_door_one_button_leads_to_its_swap(shop: Workshop, smith: Client) -> None:
    housing = shop.housing()
    query = f"?door={housing.door_id}"
    assert f'value="{housing.pk}" checked' in text(smith, NEW_SWAP, query=query)
    answer = smith.post(reverse(NEW_SWAP) + query, {"title": "Swap", "housings": [housing.pk]})
    line = only_line(WorkOrder.objects.get())
    assert answer["Location"] == reverse("orders:swap", args=[line.pk])


def test_a_door_that_waits_already_leads_to_that_swap(shop: Workshop, smith: Client) -> None:
    line = shop.swap_line()
    assert line.housing is not None
    page = text(smith, NEW_SWAP, query=f"?door={line.housing.door_id}")
    assert reverse("orders:swap", args=[line.pk]) in page


@pytest.mark.parametrize("query", ["?door=x", "?site=x", "?door=00000000-0000-0000-0000-000000000000"])
def test_a_place_that_is_not_there_is_not_found(shop: Workshop, smith: Client, query: str) -> None:
    assert smith.get(reverse(NEW_SWAP) + query).status_code == 404


def test_a_foreign_door_or_site_is_not_found(shop: Workshop, smith: Client) -> None:
    foreign = factories.make_door(shop.cast.south)
    assert smith.get(reverse(NEW_SWAP) + f"?door={foreign.pk}").status_code == 404
    assert smith.get(reverse(NEW_PIN) + f"?site={shop.cast.south.pk}").status_code == 404


@pytest.mark.parametrize("name", [NEW_PIN, NEW_SWAP])
@pytest.mark.parametrize("who", ["manager", "desk", "requester"])
def test_only_locksmiths_open_orders(shop: Workshop, client: Client, name: str, who: str) -> None:
    client.force_login(shop.cast.everybody[who])
    assert client.get(reverse(name)).status_code == 403


def test_a_locksmith_of_two_sites_chooses_the_site(shop: Workshop, smith: Client) -> None:
    Membership.objects.create(user=shop.smith, site=shop.cast.south, role=Role.LOCKSMITH)
    page = text(smith, NEW_PIN, query=f"?site={shop.cast.south.pk}")
    assert "Cores at South site" in page
    assert f"?site={shop.site.pk}" in page
