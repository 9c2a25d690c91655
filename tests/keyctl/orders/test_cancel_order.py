"""Cancelling ends what is open and leaves what is done."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from tests.keyctl.orders.workshop import Workshop, only_line


def test_its_open_lines_are_cancelled_and_its_done_ones_stay(shop: Workshop) -> None:
    order = shop.pin_order(shop.core(pinned=False), shop.core(pinned=False))
    services.pin_line(actor=shop.smith, line=order.lines.get(ordinal=1))
    services.cancel_order(actor=shop.smith, order=order)
    assert [line.state for line in order.lines.all()] == [OrderLine.State.DONE, OrderLine.State.CANCELLED]


def test_history_counts_what_was_open(shop: Workshop) -> None:
    order = shop.pin_order()
    services.cancel_order(actor=shop.smith, order=order)
    assert history_of(order)[0].sentence == f"cancelled order {order.number}; lines still open: 1 of 1"


def test_it_frees_the_core_that_was_set_aside(shop: Workshop) -> None:
    line = shop.swap_line()
    services.cancel_order(actor=shop.smith, order=line.order)
    assert line.core is not None
    assert shop.swap_line(core=line.core).is_open


def test_a_finished_order_is_not_cancelled(shop: Workshop) -> None:
    order = shop.pin_order()
    services.pin_line(actor=shop.smith, line=only_line(order))
    with pytest.raises(Conflict, match="already done"):
        services.cancel_order(actor=shop.smith, order=order)
    order.refresh_from_db()
    assert order.state == WorkOrder.State.DONE


def test_a_manager_may_not(shop: Workshop) -> None:
    order = shop.pin_order()
    with pytest.raises(PermissionDenied):
        services.cancel_order(actor=shop.cast.manager, order=order)


def test_a_stranger_does_not_find_it(shop: Workshop) -> None:
    order = shop.pin_order()
    with pytest.raises(Http404):
        services.cancel_order(actor=shop.cast.stranger, order=order)
