"""The pages of orders to cut keys: open one, look at it, cut its lines."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl.keys.models import Cabinet
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.systems.models import KeySymbol
from keyctl.systems.services import bitting_of
from tests import factories
from tests.cast import Cast
from tests.keyctl.orders.test_cut_order import key, open_order
from tests.keyctl.orders.workshop import Workshop, only_line

NEW_CUT = "orders:new-cut"


@pytest.fixture
def smith(shop: Workshop, client: Client) -> Client:
    client.force_login(shop.smith)
    return client


@pytest.fixture
def cabinet(shop: Workshop) -> Cabinet:
    return factories.make_cabinet(shop.site)


def box(symbol: KeySymbol) -> str:
    return f"count-{symbol.pk}"


def text(client: Client, name: str, *args: object, query: str = "") -> str:
    answer = client.get(reverse(name, args=args) + query)
    assert answer.status_code == 200, answer
    return answer.content.decode()


def test_the_page_opens_an_order_for_every_box_with_a_number(
    shop: Workshop, smith: Client, cabinet: Cabinet
) -> None:
    said = {"title": "Spares", "cabinet": cabinet.pk, "due_on": "2030-01-31"}
    boxes = {box(key(shop, 0)): "3", box(key(shop, 1)): "", box(key(shop, 2)): "0"}
    answer = smith.post(reverse(NEW_CUT), said | boxes)
    order = WorkOrder.objects.get()
    line = only_line(order)
    assert (order.title, str(order.due_on), line.symbol, line.count) == ("Spares", "2030-01-31", key(shop), 3)
    assert answer["Location"] == reverse("orders:detail", args=[order.pk])


def test_a_search_keeps_what_was_typed_and_opens_nothing(
    shop: Workshop, smith: Client, cabinet: Cabinet
) -> None:
    said = {"title": "Spares", "cabinet": cabinet.pk, box(key(shop)): "7", "q": "CTR", "find": "1"}
    page = smith.post(reverse(NEW_CUT), said).content.decode()
    assert 'value="Spares"' in page
    assert f'name="{box(key(shop))}" value="7"' in page
    assert box(factories.symbol(shop.system, "CTR")) in page
    assert box(key(shop, 1)) not in page
    assert not WorkOrder.objects.exists()


def test_htmx_gets_the_keys_without_the_frame(shop: Workshop, smith: Client) -> None:
    headers = {"HX-Request": "true", "HX-Trigger-Name": "q"}
    part = smith.post(reverse(NEW_CUT), {"q": "ctr"}, headers=headers).content.decode()
    assert box(factories.symbol(shop.system, "CTR")) in part
    assert "<html" not in part


@pytest.mark.parametrize("number", ["many", "-1", "1.5", "101", "9999"])
def test_a_wrong_number_is_told_with_its_key_and_kept(
    shop: Workshop, smith: Client, cabinet: Cabinet, number: str
) -> None:
    said = {"title": "Spares", "cabinet": cabinet.pk, box(key(shop)): number}
    answer = smith.post(reverse(NEW_CUT), said)
    assert answer.status_code == 422
    assert f"copies of {key(shop)}" in answer.content.decode()
    assert f'value="{number}"' in answer.content.decode()


def test_without_any_number_it_says_what_to_do(shop: Workshop, smith: Client, cabinet: Cabinet) -> None:
    answer = smith.post(reverse(NEW_CUT), {"title": "Spares", "cabinet": cabinet.pk})
    assert answer.status_code == 422
    assert "Choose at least one key" in answer.content.decode()


def test_a_key_of_a_foreign_system_is_no_choice(shop: Workshop, smith: Client, cabinet: Cabinet) -> None:
    foreign = factories.change_key(factories.make_system(shop.cast.south, actor=shop.cast.stranger))
    answer = smith.post(reverse(NEW_CUT), {"title": "Spares", "cabinet": cabinet.pk, box(foreign): "1"})
    assert answer.status_code == 422
    assert not WorkOrder.objects.exists()


def test_a_cabinet_of_another_site_is_no_choice(shop: Workshop, smith: Client) -> None:
    foreign = factories.make_cabinet(shop.cast.south)
    answer = smith.post(reverse(NEW_CUT), {"title": "Spares", "cabinet": foreign.pk, box(key(shop)): "1"})
    assert answer.status_code == 422
    assert not WorkOrder.objects.exists()


def test_a_link_may_name_keys_and_so_their_system(shop: Workshop, smith: Client) -> None:
    other = factories.make_system(shop.site, actor=shop.smith)
    wanted = [factories.change_key(other, nth) for nth in (0, 2)]
    page = text(smith, NEW_CUT, query=f"?symbol={wanted[0].pk}&symbol={wanted[1].pk}")
    for symbol in wanted:
        assert f'name="{box(symbol)}" value="1"' in page


def test_a_second_system_of_the_site_is_chosen_by_a_link(shop: Workshop, smith: Client) -> None:
    other = factories.make_system(shop.site, actor=shop.smith)
    assert f"system={other.pk}" in text(smith, NEW_CUT)
    assert box(factories.change_key(other)) in text(smith, NEW_CUT, query=f"?system={other.pk}")


@pytest.mark.parametrize("query", ["?system=x", "?symbol=x", "?system=00000000-0000-0000-0000-000000000000"])
def test_what_is_not_there_is_not_found(shop: Workshop, smith: Client, query: str) -> None:
    assert smith.get(reverse(NEW_CUT) + query).status_code == 404


def test_a_foreign_system_or_key_is_not_found(shop: Workshop, smith: Client) -> None:
    foreign = factories.make_system(shop.cast.south, actor=shop.cast.stranger)
    assert smith.get(reverse(NEW_CUT) + f"?system={foreign.pk}").status_code == 404
    assert smith.get(reverse(NEW_CUT) + f"?symbol={factories.change_key(foreign).pk}").status_code == 404


def test_a_site_without_a_system_says_so(cast: Cast, client: Client) -> None:
    client.force_login(cast.locksmith)
    assert "No keys to cut here" in text(client, NEW_CUT)


@pytest.mark.parametrize("who", ["manager", "desk", "requester", "officer", "auditor", "administrator"])
def test_only_locksmiths_open_orders(shop: Workshop, client: Client, who: str) -> None:
    client.force_login(shop.cast.everybody[who])
    assert client.get(reverse(NEW_CUT)).status_code == 403


def test_a_locksmith_cuts_a_line_by_its_button_and_reads_the_serials(shop: Workshop, smith: Client) -> None:
    line = only_line(open_order(shop))
    assert "Cut and put in the cabinet" in text(smith, "orders:detail", line.order_id)
    page = smith.post(reverse("orders:cut-line", args=[line.pk]), follow=True).content.decode()
    line.refresh_from_db()
    assert line.state == OrderLine.State.DONE
    for copy in line.copies.all():
        assert page.count(str(copy)) == 2  # in the message and beside the line


@pytest.mark.parametrize(
    ("who", "status"),
    [("desk", 403), ("manager", 403), ("officer", 403), ("auditor", 403), ("stranger", 404)],
)
def test_the_button_is_closed_to_others(shop: Workshop, client: Client, who: str, status: int) -> None:
    line = only_line(open_order(shop))
    client.force_login(shop.cast.everybody[who])
    assert client.post(reverse("orders:cut-line", args=[line.pk])).status_code == status


@pytest.mark.parametrize("who", ["manager", "officer", "auditor", "administrator"])
def test_readers_see_the_lines_and_no_button(shop: Workshop, client: Client, who: str) -> None:
    client.force_login(shop.cast.everybody[who])
    page = text(client, "orders:detail", open_order(shop).pk)
    assert str(key(shop)) in page
    assert "Cut and put" not in page
    assert "Cutting list" not in page


def test_a_manager_does_not_learn_which_serial_is_which_key(shop: Workshop, client: Client) -> None:
    line = services.cut_line(actor=shop.smith, line=only_line(open_order(shop)))
    client.force_login(shop.cast.manager)
    page = text(client, "orders:detail", line.order_id)
    assert not [copy for copy in line.copies.all() if str(copy) in page]


def test_the_list_filters_orders_to_cut(shop: Workshop, smith: Client) -> None:
    pins, cuts = shop.pin_order(), open_order(shop)
    page = text(smith, "orders:list", query="?kind=cut")
    assert str(cuts) in page
    assert f"{pins}<" not in page


def test_the_number_of_queries_does_not_grow_with_the_lines(shop: Workshop, smith: Client) -> None:
    def queries(order: WorkOrder) -> int:
        with CaptureQueriesContext(connection) as seen:
            text(smith, "orders:detail", order.pk)
        return len(seen)

    few, many = open_order(shop), open_order(shop, {key(shop, nth): 1 for nth in range(4)})
    assert queries(few) == queries(many)


def test_no_page_shows_a_bitting(shop: Workshop, smith: Client) -> None:
    order = open_order(shop)
    pages = text(smith, NEW_CUT) + text(smith, "orders:detail", order.pk)
    assert not [symbol for symbol in shop.system.symbols.all() if bitting_of(symbol) in pages]
