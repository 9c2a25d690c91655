"""Waiting for something said, going on, and giving an order to somebody."""

import pytest

from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from keyctl.orders import services
from tests.keyctl.orders.workshop import Workshop


def test_an_order_that_waits_says_for_what(shop: Workshop) -> None:
    order = services.let_wait(actor=shop.smith, order=shop.pin_order(), reason="  New springs ")
    assert (order.state, order.waits_for) == ("waiting", "New springs")
    assert history_of(order)[0].sentence == f"let order {order.number} wait: New springs"


def test_it_does_not_wait_for_nothing(shop: Workshop) -> None:
    with pytest.raises(Refused, match="Say what the order waits for"):
        services.let_wait(actor=shop.smith, order=shop.pin_order(), reason=" ")


def test_an_order_that_goes_on_waits_for_nothing_any_more(shop: Workshop) -> None:
    order = services.let_wait(actor=shop.smith, order=shop.pin_order(), reason="Springs")
    order = services.go_on(actor=shop.smith, order=order)
    assert (order.state, order.waits_for) == ("under_way", "")


def test_it_is_given_to_a_locksmith_of_the_site_and_taken_back(shop: Workshop) -> None:
    order = services.assign_order(actor=shop.cast.administrator, order=shop.pin_order(), to=shop.smith)
    assert order.assigned_to == shop.smith
    order = services.assign_order(actor=shop.smith, order=order, to=None)
    assert order.assigned_to is None


@pytest.mark.parametrize("who", ["officer", "stranger", "requester"])
def test_it_is_given_to_nobody_else(shop: Workshop, who: str) -> None:
    with pytest.raises(Refused, match="no locksmith at"):
        services.assign_order(actor=shop.smith, order=shop.pin_order(), to=shop.cast.everybody[who])


def test_giving_an_area_to_somebody_gives_its_open_orders(shop: Workshop) -> None:
    area = services.write_area(actor=shop.smith, site=shop.site, title="East wing")
    housing, _ = shop.furnished()
    part = services.write_part(
        actor=shop.smith, area=area, title="Wave 1", pairs={housing: shop.core(pinned=False)}
    )
    services.assign_order(actor=shop.smith, order=area, to=shop.smith)
    part.swap.refresh_from_db()
    assert part.swap.assigned_to == shop.smith
