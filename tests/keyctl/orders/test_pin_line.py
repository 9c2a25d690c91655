"""A line of a pin order is done when its core is pinned."""

import pytest
from django.core.exceptions import PermissionDenied

from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from tests.keyctl.orders.workshop import Workshop, only_line


def test_it_pins_the_core_and_says_who_and_when(shop: Workshop) -> None:
    core = shop.core(pinned=False)
    line = services.pin_line(actor=shop.smith, line=only_line(shop.pin_order(core)))
    core.refresh_from_db()
    assert core.is_pinned
    assert (line.state, line.done_by, core.pinned_by) == ("done", shop.smith, shop.smith)


def test_the_order_closes_itself_with_its_last_line(shop: Workshop) -> None:
    order = shop.pin_order(shop.core(pinned=False), shop.core(pinned=False))
    states = []
    for line in order.lines.all():
        services.pin_line(actor=shop.smith, line=line)
        order.refresh_from_db()
        states.append(order.state)
    assert states == [WorkOrder.State.UNDER_WAY, WorkOrder.State.DONE]
    assert order.closed_at is not None


def test_history_tells_the_pinning_and_the_end_of_the_order(shop: Workshop) -> None:
    order = shop.pin_order()
    services.pin_line(actor=shop.smith, line=only_line(order))
    assert [event.verb for event in history_of(order)] == ["order.done", "order.line_pinned", "order.opened"]


def test_the_second_one_hears_who_was_first(shop: Workshop) -> None:
    line = only_line(shop.pin_order())
    services.pin_line(actor=shop.smith, line=line)
    with pytest.raises(Conflict, match="Locksmith was first and finished Order"):
        services.pin_line(actor=shop.smith, line=line)


def test_it_refuses_a_line_of_a_swap_order(shop: Workshop) -> None:
    with pytest.raises(Refused, match="is there to swap cores"):
        services.pin_line(actor=shop.smith, line=shop.swap_line())


def test_it_refuses_a_line_of_a_cancelled_order(shop: Workshop) -> None:
    order = shop.pin_order()
    services.cancel_order(actor=shop.smith, order=order)
    with pytest.raises(Conflict, match="already cancelled"):
        services.pin_line(actor=shop.smith, line=only_line(order))


def test_a_manager_may_not_pin(shop: Workshop) -> None:
    with pytest.raises(PermissionDenied):
        services.pin_line(actor=shop.cast.manager, line=only_line(shop.pin_order()))
