"""The bench view: the core by its tag, its pins once history knows, its try-out."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.cores.turning import pins_of
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from tests.keyctl.orders.workshop import Workshop, only_line
from tests.signing import sign_in

ROW = re.compile(r'<tr><th scope="row">(\d)</th>(.*?)</tr>', re.DOTALL)


@pytest.fixture
def smith(shop: Workshop, client: Client) -> Client:
    sign_in(client, shop.smith)
    return client


@pytest.fixture
def order(shop: Workshop) -> WorkOrder:
    return shop.pin_order(shop.core(pinned=False), shop.core(pinned=False, nth=1))


@pytest.fixture
def line(shop: Workshop, order: WorkOrder) -> OrderLine:
    return services.pin_line(actor=shop.smith, line=order.lines.all()[0])


def post(client: Client, name: str, thing: OrderLine | WorkOrder, **said: str) -> tuple[int, str]:
    answer = client.post(reverse(f"orders:{name}", args=[thing.pk]), said)
    return answer.status_code, answer.get("Location", "") or answer.content.decode()


def test_the_tag_leads_to_its_core(smith: Client, order: WorkOrder) -> None:
    line = order.lines.all()[1]
    assert line.core
    assert post(smith, "bench", order, tag=line.core.tag.lower()) == (
        302,
        reverse("orders:bench-core", args=[line.pk]),
    )


def test_a_tag_of_another_order_is_told(smith: Client, shop: Workshop, order: WorkOrder) -> None:
    status, page = post(smith, "bench", order, tag=shop.core().tag)
    assert (status, "has this tag" in page) == (422, True)


def test_the_page_of_a_core_shows_no_pin_before_it_is_asked_for(smith: Client, line: OrderLine) -> None:
    page = smith.get(reverse("orders:bench-core", args=[line.pk])).content.decode()
    assert "Show its stacks" in page
    assert "secret" not in page
    assert not Event.objects.filter(verb="core.pinning_shown").exists()


def test_the_stacks_are_those_of_the_core_recorded_first_and_kept_by_nobody(
    smith: Client, line: OrderLine
) -> None:
    answer = smith.post(reverse("orders:bench-stacks", args=[line.pk]))
    assert "no-store" in answer["Cache-Control"]
    assert line.core
    assert history_of(line.core)[0].verb == "core.pinning_shown"
    shown = {
        int(position): [int(figure) for figure in re.findall(r">(\d+)<", cells)]
        for position, cells in ROW.findall(answer.content.decode())
    }
    assert shown == {
        stack.position: [stack.bottom, *stack.masters, stack.control, stack.top, stack.total]
        for stack in pins_of(line.core).stacks
    }


def test_pins_are_shown_in_answer_to_a_post_alone(smith: Client, line: OrderLine) -> None:
    assert smith.get(reverse("orders:bench-stacks", args=[line.pk])).status_code == 405


def test_a_core_that_is_not_pinned_has_no_stacks_to_show(smith: Client, order: WorkOrder) -> None:
    _, page = post(smith, "bench-stacks", order.lines.all()[0])
    assert "is not pinned yet. Pin it first" in page
    assert "secret" not in page


def test_pinned_here_one_stays_with_the_core(smith: Client, order: WorkOrder) -> None:
    line = order.lines.all()[0]
    assert post(smith, "bench-pin", line) == (302, reverse("orders:bench-core", args=[line.pk]))
    line.refresh_from_db()
    assert line.trying == "owed"


def said(shop: Workshop, line: OrderLine, **others: str) -> dict[str, str]:
    assert line.core
    due = services.keys_due(actor=shop.smith, line=line)
    return {f"key-{key.symbol.pk}": key.expected for key in due} | {"tag": line.core.tag} | others


def test_a_good_try_out_leads_to_the_next_core(smith: Client, shop: Workshop, line: OrderLine) -> None:
    following = line.order.lines.get(ordinal=2)
    assert post(smith, "bench-try", line, **said(shop, line)) == (
        302,
        reverse("orders:bench-core", args=[following.pk]),
    )


def test_what_disagrees_stays_on_the_page_with_words(smith: Client, shop: Workshop, line: OrderLine) -> None:
    own = next(iter(said(shop, line)))
    post(smith, "bench-try", line, **said(shop, line, **{own: "nothing"}))
    page = smith.get(reverse("orders:bench-core", args=[line.pk])).content.decode()
    assert "This core stays on the bench" in page
    assert "It binds" in page


def test_a_try_out_with_another_tag_is_not_kept(smith: Client, shop: Workshop, line: OrderLine) -> None:
    status, page = post(smith, "bench-try", line, **said(shop, line, tag=shop.core().tag))
    assert (status, "You hold core" in page) == (422, True)
    assert not line.try_outs.exists()


def test_it_is_let_go_in_words(smith: Client, line: OrderLine) -> None:
    assert post(smith, "bench-let-go", line, why="")[0] == 422
    assert post(smith, "bench-let-go", line, why="No key is cut yet")[0] == 302


def test_what_the_keys_should_do_is_not_told_beforehand(smith: Client, line: OrderLine) -> None:
    """So that somebody looks: no choice but ‘not at hand’ is ticked."""
    page = smith.get(reverse("orders:bench-core", args=[line.pk])).content.decode()
    assert re.findall(r'value="(\w+)"[^>]*checked', page) == []


def test_only_a_pin_order_has_a_bench(smith: Client, shop: Workshop) -> None:
    order = shop.swap_order()
    assert smith.get(reverse("orders:bench", args=[order.pk])).status_code == 404
    assert smith.get(reverse("orders:bench-core", args=[only_line(order).pk])).status_code == 404


def test_a_manager_does_not_see_the_bench(shop: Workshop, client: Client, line: OrderLine) -> None:
    sign_in(client, shop.cast.manager)
    assert client.post(reverse("orders:bench-stacks", args=[line.pk])).status_code == 403
