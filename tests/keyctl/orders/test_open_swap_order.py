"""An order lists doors whose cores are swapped."""

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.http import Http404

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Refused
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Housing
from tests import factories
from tests.keyctl.orders.workshop import Workshop


def open_order(shop: Workshop, *housings: Housing, actor: User | None = None) -> WorkOrder:
    return services.open_swap_order(
        actor=actor or shop.smith, site=shop.site, title="Door work", housings=housings
    )


def test_it_has_one_line_for_each_housing(shop: Workshop) -> None:
    housings = [shop.housing(), shop.housing()]
    order = open_order(shop, *housings)
    assert [line.housing for line in order.lines.all()] == housings


def test_history_tells_it_at_the_door(shop: Workshop) -> None:
    housing = shop.housing()
    order = open_order(shop, housing)
    assert history_of(housing.door)[0].sentence == f"opened order {order.number} to swap 1 core"


def test_it_refuses_an_order_without_doors(shop: Workshop) -> None:
    with pytest.raises(Refused, match="Choose at least one door"):
        open_order(shop)


def test_it_refuses_a_housing_that_already_waits_for_a_swap(shop: Workshop) -> None:
    housing = shop.housing()
    first = open_order(shop, housing)
    with pytest.raises(Refused) as refused:
        open_order(shop, housing)
    assert f"already waits for a swap in order {first.number}" in refused.value.reasons[0]


def test_the_database_itself_keeps_a_second_open_swap_away(shop: Workshop) -> None:
    line = open_order(shop, shop.housing()).lines.get()
    with pytest.raises(IntegrityError, match=r"housing"), transaction.atomic():
        OrderLine.objects.create(order=line.order, ordinal=2, housing=line.housing)


def test_the_database_itself_keeps_a_core_out_of_a_second_open_line(shop: Workshop) -> None:
    line = shop.swap_line()
    other = open_order(shop, shop.housing()).lines.get()
    other.core = line.core
    with pytest.raises(IntegrityError, match=r"core"), transaction.atomic():
        other.save()


def test_it_refuses_a_housing_of_another_site(shop: Workshop) -> None:
    with pytest.raises(Refused) as refused:
        open_order(shop, factories.make_housing(shop.cast.south))
    assert "belongs to another site" in refused.value.reasons[0]


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_opens_it(shop: Workshop, role: str) -> None:
    with pytest.raises(PermissionDenied):
        open_order(shop, shop.housing(), actor=shop.cast.everybody[role])


def test_a_stranger_does_not_find_the_site(shop: Workshop) -> None:
    with pytest.raises(Http404):
        open_order(shop, shop.housing(), actor=shop.cast.stranger)
