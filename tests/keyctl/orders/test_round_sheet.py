"""The round sheet: many doors of a swap order told at once, each with its own three checks."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services import DoorTold
from keyctl.orders.services.writing import write_swap_order
from tests.cast import Cast
from tests.keyctl.orders.workshop import Workshop

pytestmark = pytest.mark.django_db

ALL = ("turned", "held", "egress")


def order_of(shop: Workshop, doors: int = 2, *, pinned: bool = True) -> WorkOrder:
    """Doors with cores, and a core made for each."""
    meant = {shop.furnished()[0]: shop.core(pinned=pinned) for _ in range(doors)}
    return write_swap_order(actor=shop.smith, site=shop.site, title="Round", meant=meant)


def sent(lines: list[OrderLine], ticks: dict[int, tuple[str, ...]]) -> dict[str, Any]:
    """The form as the page sends it: every line's facts, and the boxes that are ticked."""
    data: dict[str, Any] = {"line": [str(line.pk) for line in lines]}
    for nth, line in enumerate(lines):
        assert line.housing
        assert line.meant
        data[f"version-{line.pk}"] = str(line.meant.version)
        data[f"out-{line.pk}"] = str(line.housing.cores.get().pk)
        data |= {f"{name}-{line.pk}": "on" for name in ticks.get(nth, ())}
    return data


def address(order: WorkOrder) -> str:
    return reverse("orders:round", args=[order.pk])


def test_ticked_doors_are_done_and_the_others_stay_open(shop: Workshop, client: Client) -> None:
    order = order_of(shop)
    lines = list(order.lines.all())
    client.force_login(shop.smith)
    answer = client.post(address(order), sent(lines, {0: ALL}), follow=True)
    assert "Swaps finished: 1." in answer.content.decode()
    states = list(order.lines.order_by("ordinal").values_list("state", flat=True))
    assert states == ["done", "open"]
    done = OrderLine.objects.get(pk=lines[0].pk)
    assert done.operating_key_turned
    assert done.control_key_came_out
    assert done.egress_and_latch_tried
    assert done.housing
    assert done.housing.cores.get() == lines[0].meant
    assert done.core_out
    assert done.core_out.place == Core.Place.BENCH


def test_a_door_with_a_check_missing_is_not_done_and_undoes_no_other(shop: Workshop, client: Client) -> None:
    order = order_of(shop)
    lines = list(order.lines.all())
    client.force_login(shop.smith)
    answer = client.post(address(order), sent(lines, {0: ("turned", "held"), 1: ALL}))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Try the way out and the latch." in text
    assert text.count(" checked") == 2  # what was ticked at that door is kept
    states = list(order.lines.order_by("ordinal").values_list("state", flat=True))
    assert states == ["open", "done"]


def test_every_swap_has_events_of_its_own(shop: Workshop, client: Client) -> None:
    order = order_of(shop, 3)
    client.force_login(shop.smith)
    client.post(address(order), sent(list(order.lines.all()), dict.fromkeys(range(3), ALL)))
    assert Event.objects.filter(verb="core.swapped").count() == 3
    assert Event.objects.filter(verb="order.swap_checked").count() == 3
    order.refresh_from_db()
    assert order.state == WorkOrder.State.DONE


def test_a_core_swapped_in_the_meantime_is_told_at_its_door(shop: Workshop, client: Client) -> None:
    order = order_of(shop)
    lines = list(order.lines.all())
    data = sent(lines, {0: ALL, 1: ALL})
    assert lines[0].housing
    Core.objects.filter(housing=lines[0].housing).update(place="bench", housing=None)
    client.force_login(shop.smith)
    answer = client.post(address(order), data)
    assert "somebody swapped it since you began" in answer.content.decode()
    assert order.lines.filter(state="done").count() == 1


def test_there_is_no_box_for_all_and_none_where_the_core_has_no_pins(shop: Workshop, client: Client) -> None:
    order = order_of(shop, 2, pinned=False)
    client.force_login(shop.smith)
    text = client.get(address(order)).content.decode()
    assert "Not pinned yet" in text
    assert "checkbox" not in text
    ready = order_of(shop, 2)
    assert client.get(address(ready)).content.decode().count('type="checkbox"') == 2 * len(ALL)


def test_a_page_holds_25_doors(shop: Workshop, client: Client) -> None:
    order = order_of(shop, 26)
    client.force_login(shop.smith)
    assert "1 to 25 of 26" in client.get(address(order)).content.decode()
    doors = [told(line) for line in order.lines.all()]
    with pytest.raises(Refused, match="at most 25"):
        services.tell_round(actor=shop.smith, order=order, doors=doors)


def test_nothing_ticked_is_told(shop: Workshop, client: Client) -> None:
    order = order_of(shop)
    client.force_login(shop.smith)
    answer = client.post(address(order), sent(list(order.lines.all()), {}))
    assert answer.status_code == 422
    assert "No door is ticked" in answer.content.decode()


def test_only_locksmiths_tell_a_round(shop: Workshop, cast: Cast) -> None:
    order = order_of(shop)
    doors = [told(line) for line in order.lines.all()]
    for actor in (cast.officer, cast.desk, cast.manager, cast.auditor):
        with pytest.raises(PermissionDenied):
            services.tell_round(actor=actor, order=order, doors=doors)


def test_at_its_own_door_the_core_that_was_made_for_it_stands_first(shop: Workshop, client: Client) -> None:
    for _ in range(3):
        shop.core()
    line = order_of(shop, 1).lines.get()
    client.force_login(shop.smith)
    page = client.get(reverse("orders:swap", args=[line.pk]))
    assert page.context["found"][0] == line.meant


def told(line: OrderLine) -> DoorTold:
    assert line.meant
    assert line.housing
    return DoorTold(
        line=line,
        core_in_version=line.meant.version,
        core_out_id=line.housing.cores.get().pk,
        operating_key_turned=True,
        control_key_came_out=True,
        egress_and_latch_tried=True,
        put_at="bench",
    )
