"""An order lists cores to pin at the bench."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from tests import factories
from tests.keyctl.orders.workshop import Workshop


def open_order(shop: Workshop, *cores: Core, actor: User | None = None) -> WorkOrder:
    return services.open_pin_order(actor=actor or shop.smith, site=shop.site, title="Bench work", cores=cores)


def test_it_has_one_line_for_each_core_in_the_order_given(shop: Workshop) -> None:
    first, second = shop.core(pinned=False), shop.core()
    order = open_order(shop, second, first)
    assert [(line.ordinal, line.core) for line in order.lines.all()] == [(1, second), (2, first)]


def test_a_core_named_twice_stands_in_it_once(shop: Workshop) -> None:
    core = shop.core()
    assert open_order(shop, core, core).lines.count() == 1


def test_numbers_follow_one_another(shop: Workshop) -> None:
    first = open_order(shop, shop.core())
    assert open_order(shop, shop.core()).number == first.number + 1


def test_history_tells_it_at_the_order_and_at_the_core(shop: Workshop) -> None:
    core = shop.core()
    order = open_order(shop, core)
    told = f"opened order {order.number} to pin 1 core"
    assert history_of(order)[0].sentence == history_of(core)[0].sentence == told


def test_it_refuses_an_order_without_cores(shop: Workshop) -> None:
    with pytest.raises(Refused, match="Choose at least one core"):
        open_order(shop)


def test_it_refuses_a_core_that_stands_in_another_open_order(shop: Workshop) -> None:
    core = shop.core()
    first = open_order(shop, core)
    with pytest.raises(Refused) as refused:
        open_order(shop, core)
    assert f"already stands in order {first.number}" in refused.value.reasons[0]
    assert WorkOrder.objects.count() == 1


def test_it_refuses_a_core_that_a_swap_has_set_aside(shop: Workshop) -> None:
    core = shop.core()
    shop.swap_line(core=core)
    with pytest.raises(Refused):
        open_order(shop, core)


def test_it_takes_a_core_again_once_its_order_is_cancelled(shop: Workshop) -> None:
    core = shop.core()
    services.cancel_order(actor=shop.smith, order=open_order(shop, core))
    assert open_order(shop, core).is_open


def test_it_refuses_a_core_in_a_door_and_says_what_to_do(shop: Workshop) -> None:
    housing, core = shop.furnished()
    with pytest.raises(Refused) as refused:
        open_order(shop, core)
    assert refused.value.reasons == (f"Core {core} is in {housing}. Swap it out, then pin it.",)


def test_it_refuses_a_core_that_is_gone(shop: Workshop) -> None:
    core = shop.core()
    Core.objects.filter(pk=core.pk).update(place=Core.Place.GONE)
    with pytest.raises(Refused) as refused:
        open_order(shop, core)
    assert "is gone" in refused.value.reasons[0]


def test_it_refuses_a_core_of_another_site(shop: Workshop) -> None:
    with pytest.raises(Refused) as refused:
        open_order(shop, shop.foreign_core())
    assert "belongs to another site" in refused.value.reasons[0]


def test_it_tells_every_reason_at_once(shop: Workshop) -> None:
    _, installed = shop.furnished()
    with pytest.raises(Refused) as refused:
        open_order(shop, installed, shop.foreign_core())
    assert len(refused.value.reasons) == 2


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_opens_it(shop: Workshop, role: str) -> None:
    with pytest.raises(PermissionDenied):
        open_order(shop, shop.core(), actor=shop.cast.everybody[role])


def test_a_stranger_does_not_find_the_site(shop: Workshop) -> None:
    with pytest.raises(Http404):
        open_order(shop, shop.core(), actor=factories.make_user())
