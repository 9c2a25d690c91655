"""Pages of orders ask as often for many lines as for few."""

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Housing
from tests import factories
from tests.keyctl.orders.workshop import Workshop


def housings(shop: Workshop, number: int) -> list[Housing]:
    found = [shop.housing() for _ in range(number)]
    for housing in found:
        factories.install(shop.core(pinned=False), housing)
    return found


def inspection(shop: Workshop, number: int) -> str:
    doors = [factories.make_door(shop.site) for _ in range(number)]
    order = services.open_inspect_order(actor=shop.smith, site=shop.site, title="Look", doors=doors)
    return reverse("orders:detail", args=[order.pk])


def lock_out(shop: Workshop, number: int) -> str:
    order = services.open_lock_out(
        actor=shop.smith,
        site=shop.site,
        title="Pipe",
        housings=housings(shop, number),
        asked_by="Facilities",
        until=timezone.localdate(),
    )
    return reverse("orders:detail", args=[order.pk])


def bench(shop: Workshop, number: int) -> str:
    order = shop.pin_order(*(shop.core(pinned=False) for _ in range(number)))
    return reverse("orders:bench", args=[order.pk])


def route(shop: Workshop, number: int) -> str:
    lock_out(shop, number)
    WorkOrder.objects.update(assigned_to=shop.smith)
    return reverse("orders:route")


def list_of(shop: Workshop, number: int) -> str:
    for _ in range(number):
        inspection(shop, 1)
    return reverse("orders:list")


@pytest.mark.parametrize("made", [inspection, lock_out, bench, route, list_of])
def test_more_lines_ask_no_more(shop: Workshop, client: Client, made: Callable[[Workshop, int], str]) -> None:
    client.force_login(shop.smith)
    asked = []
    for number in (1, 1, 3):
        address = made(shop, number)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        asked.append(len(queries))
    assert asked[1] == asked[2]
