"""Two people act at the same moment, in transactions of their own: one wins, the other is told."""

from collections.abc import Sequence
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.orders.workshop import Workshop, complete, only_line
from tests.together import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def told(results: Sequence[Any]) -> str:
    """The one sentence of the one who came second."""
    refusals = [result for result in results if isinstance(result, Refused)]
    assert len(refusals) == 1, results
    return refusals[0].sentences[-1]


def test_two_swaps_of_one_line_have_one_winner(shop: Workshop) -> None:
    housing, old = shop.furnished()
    line = shop.swap_line(housing)
    second = factories.make_user("second", site=shop.site, role=Role.LOCKSMITH)
    results = at_once(
        *(lambda a=actor: complete(line, a, core_out_id=old.pk) for actor in (shop.smith, second))
    )
    assert "was first and finished Order" in told(results)
    assert any(isinstance(result, Conflict) for result in results)
    assert Event.objects.filter(verb="core.swapped").count() == 1
    assert [core.pk for core in Core.objects.filter(housing=housing)] == [line.core_id]


def test_two_pages_finish_one_swap_and_the_second_says_so(shop: Workshop) -> None:
    line = shop.swap_line()
    assert line.core is not None
    url = reverse("orders:swap", args=[line.pk]) + "?step=checks"
    facts = {"core_in_id": line.core.pk, "core_in_version": line.core.version, "put_at": "bench"}
    facts |= dict.fromkeys(["operating_key_turned", "control_key_came_out", "egress_and_latch_tried"], "on")
    tablets = [Client(), Client()]
    for tablet in tablets:
        tablet.force_login(shop.smith)
    answers = at_once(*(lambda t=tablet: t.post(url, facts) for tablet in tablets))
    assert sorted(answer.status_code for answer in answers) == [302, 422]
    second = next(answer for answer in answers if answer.status_code == 422)
    assert "was first and finished Order" in second.content.decode()


def test_one_core_chosen_for_two_doors_goes_to_one(shop: Workshop) -> None:
    core = shop.core()
    lines = list(shop.swap_order(shop.housing(), shop.housing()).lines.all())
    lines.append(only_line(shop.swap_order(shop.housing())))
    acts = [lambda t=line: services.choose_core(actor=shop.smith, line=t, core=core) for line in lines[1:]]
    assert f"Core {core} already stands in order" in told(at_once(*acts))
    assert OrderLine.objects.filter(core=core).count() == 1


def test_one_housing_gets_one_open_swap(shop: Workshop) -> None:
    housing = shop.housing()
    results = at_once(*[lambda: shop.swap_order(housing)] * 2)
    assert "already waits for a swap" in told(results)
    assert WorkOrder.objects.count() == OrderLine.objects.count() == 1


def test_one_core_gets_one_open_line(shop: Workshop) -> None:
    core = shop.core(pinned=False)
    assert "already stands in order" in told(at_once(*[lambda: shop.pin_order(core)] * 2))
    assert WorkOrder.objects.count() == OrderLine.objects.count() == 1


def test_a_core_is_pinned_once_for_its_line(shop: Workshop) -> None:
    line = only_line(shop.pin_order())
    results = at_once(*[lambda: services.pin_line(actor=shop.smith, line=line)] * 2)
    assert "was first and finished Order" in told(results)
    assert Event.objects.filter(verb="core.pinned").count() == 1


def test_the_last_two_lines_finished_at_once_close_the_order_once(shop: Workshop) -> None:
    order = shop.pin_order(shop.core(pinned=False), shop.core(pinned=False))
    at_once(*(lambda t=line: services.pin_line(actor=shop.smith, line=t) for line in order.lines.all()))
    order.refresh_from_db()
    assert order.state == WorkOrder.State.DONE
    assert Event.objects.filter(verb="order.done").count() == 1


def test_orders_opened_at_once_get_numbers_of_their_own(shop: Workshop) -> None:
    cores = [shop.core() for _ in range(8)]
    orders = at_once(*(lambda c=core: shop.pin_order(c) for core in cores))
    assert sorted(order.number for order in orders) == list(range(1, 9))


@pytest.mark.skipif(not connection.features.has_select_for_update, reason="Here one writes at a time.")
def test_a_swap_that_names_its_core_holds_the_housing_before_it(shop: Workshop) -> None:
    """As whoever settles a case does: else the two wait for each other."""
    housing, old = shop.furnished()
    line, core = shop.swap_line(housing), shop.core()
    with CaptureQueriesContext(connection) as asked:
        complete(line, shop.smith, core_in=core, core_in_version=core.version, core_out_id=old.pk)
    held = [query["sql"] for query in asked if "FOR UPDATE" in query["sql"]]
    tables = [table for sql in held for table in ("places_housing", "cores_core") if f'FROM "{table}"' in sql]
    assert tables[0] == "places_housing"
    assert "cores_core" in tables
