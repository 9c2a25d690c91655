"""An order lists keys to cut: how many of each, and the cabinet they go into."""

from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction
from django.http import Http404

from keyctl.accounts.models import User
from keyctl.audit.selectors import history_of
from keyctl.keys.models import Cabinet
from keyctl.lib.errors import Refused
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.keyctl.orders.workshop import Workshop, only_line


def key(shop: Workshop, nth: int = 0) -> KeySymbol:
    return factories.change_key(shop.system, nth)


def open_order(
    shop: Workshop,
    counts: dict[KeySymbol, int] | None = None,
    *,
    cabinet: Cabinet | None = None,
    actor: User | None = None,
) -> WorkOrder:
    return services.open_cut_order(
        actor=actor or shop.smith,
        site=shop.site,
        title="Spare keys",
        counts={key(shop): 2} if counts is None else counts,
        cabinet=cabinet or factories.make_cabinet(shop.site),
    )


def test_it_has_one_line_for_each_key_in_the_order_given(shop: Workshop) -> None:
    second, first = key(shop, 1), key(shop, 0)
    order = open_order(shop, {second: 3, first: 1})
    lines = [(line.ordinal, line.symbol, line.count) for line in order.lines.all()]
    assert (order.kind, lines) == ("cut", [(1, second, 3), (2, first, 1)])


def test_every_line_names_the_cabinet(shop: Workshop) -> None:
    cabinet = factories.make_cabinet(shop.site)
    assert only_line(open_order(shop, cabinet=cabinet)).cabinet == cabinet


def test_history_tells_it_at_the_order_and_at_the_key(shop: Workshop) -> None:
    order = open_order(shop)
    told = f"opened order {order.number} to cut 2 copies of {key(shop)}"
    assert history_of(order)[0].sentence == history_of(key(shop))[0].sentence == told


def test_history_counts_the_copies_of_several_keys(shop: Workshop) -> None:
    order = open_order(shop, {key(shop, 0): 2, key(shop, 1): 3})
    assert history_of(order)[0].sentence.endswith("to cut 5 copies of 2 keys")


def test_masters_and_control_keys_may_stand_in_it(shop: Workshop) -> None:
    keys = [factories.symbol(shop.system, name) for name in ("A", "CTR")]
    assert open_order(shop, dict.fromkeys(keys, 1)).lines.count() == 2


def test_it_refuses_an_order_without_keys(shop: Workshop) -> None:
    with pytest.raises(Refused, match="Choose at least one key"):
        open_order(shop, {})


@pytest.mark.parametrize("count", [0, -1, 101])
def test_it_refuses_no_copies_and_too_many(shop: Workshop, count: int) -> None:
    with pytest.raises(Refused) as refused:
        open_order(shop, {key(shop): count})
    assert f"Cut between 1 and 100 copies of {key(shop)}" in refused.value.reasons[0]


def test_it_refuses_a_key_of_a_system_that_the_site_does_not_use(shop: Workshop) -> None:
    foreign = factories.change_key(factories.make_system(shop.cast.south, actor=shop.cast.stranger))
    with pytest.raises(Refused) as refused:
        open_order(shop, {foreign: 1})
    assert "is not used at North site" in refused.value.reasons[0]
    assert not WorkOrder.objects.exists()


def test_it_refuses_a_cabinet_of_another_site_beside_every_other_reason(shop: Workshop) -> None:
    with pytest.raises(Refused) as refused:
        open_order(shop, {key(shop): 0}, cabinet=factories.make_cabinet(shop.cast.south))
    assert len(refused.value.reasons) == 2
    assert "is not a cabinet of North site" in refused.value.reasons[1]


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_opens_it(shop: Workshop, role: str) -> None:
    with pytest.raises(PermissionDenied):
        open_order(shop, actor=shop.cast.everybody[role])


def test_a_stranger_does_not_find_the_site(shop: Workshop) -> None:
    with pytest.raises(Http404):
        open_order(shop, actor=shop.cast.stranger)


def test_the_database_keeps_a_line_from_being_half_of_each_kind(shop: Workshop) -> None:
    line = only_line(open_order(shop))
    wrong: list[dict[str, Any]] = [
        {"core": shop.core()},
        {"housing": shop.housing()},
        {"cabinet": None},
        {"count": None},
    ]
    for facts in wrong:
        with pytest.raises(IntegrityError), transaction.atomic():
            OrderLine.objects.filter(pk=line.pk).update(**facts)


@pytest.mark.parametrize("count", [0, 101])
def test_the_database_keeps_the_number_sane(shop: Workshop, count: int) -> None:
    line = only_line(open_order(shop))
    with pytest.raises(IntegrityError, match="sane_number"), transaction.atomic():
        OrderLine.objects.filter(pk=line.pk).update(count=count)


def test_the_database_keeps_a_key_in_an_order_once(shop: Workshop) -> None:
    line = only_line(open_order(shop))
    with pytest.raises(IntegrityError), transaction.atomic():
        line.order.lines.create(ordinal=2, symbol=line.symbol, count=1, cabinet=line.cabinet)


def test_cancelling_drops_what_is_not_cut(shop: Workshop) -> None:
    order = open_order(shop)
    services.cancel_order(actor=shop.smith, order=order)
    assert only_line(order).state == OrderLine.State.CANCELLED
    assert not key(shop).copies.exists()
