"""A lost control key: the order ends as the case ends."""

import pytest

from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from keyctl.recovery.models import ControlKeyCase
from keyctl.recovery.services import cancel_case, open_case
from keyctl.recovery.services.closing import _end
from tests import factories
from tests.keyctl.orders.workshop import Workshop


def open_it(shop: Workshop) -> WorkOrder:
    return services.open_recover_order(
        actor=shop.smith, site=shop.site, title="Control key", system=shop.system
    )


def a_case(shop: Workshop) -> ControlKeyCase:
    return open_case(
        actor=shop.smith, site=shop.site, system=shop.system, note="Not in the safe", officer_told=True
    )


def test_a_closed_case_finishes_the_order(shop: Workshop) -> None:
    order, case = open_it(shop), a_case(shop)
    _end(shop.smith, case, ControlKeyCase.State.CLOSED, "A new control key was cut and tried")
    order.refresh_from_db()
    assert order.state == "done"


def test_a_cancelled_case_cancels_the_order(shop: Workshop) -> None:
    order, case = open_it(shop), a_case(shop)
    cancel_case(actor=shop.smith, case=case, version=case.version, outcome="It lay under the mat")
    order.refresh_from_db()
    assert order.state == "cancelled"


def test_a_case_of_another_site_leaves_the_order_open(shop: Workshop) -> None:
    order = open_it(shop)
    services.recovery_ended(actor=shop.cast.stranger, site=shop.cast.south, system=shop.system, has_key=True)
    order.refresh_from_db()
    assert order.state == "open"


def test_one_order_looks_after_a_control_key(shop: Workshop) -> None:
    open_it(shop)
    with pytest.raises(Conflict, match="Go on with that one"):
        open_it(shop)


def test_the_system_is_used_at_the_site(shop: Workshop) -> None:
    foreign = factories.make_system(shop.cast.south, actor=shop.cast.stranger)
    with pytest.raises(Refused, match="not used at"):
        services.open_recover_order(actor=shop.smith, site=shop.site, title="Key", system=foreign)
