"""A line of an order to cut keys is done when its copies are in the cabinet."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.keys.models import KeyCopy
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.systems.services import bitting_of
from tests import factories
from tests.keyctl.orders.test_cut_order import key, open_order
from tests.keyctl.orders.workshop import Workshop, only_line


def test_the_copies_are_in_the_cabinet_and_known_to_the_line(shop: Workshop) -> None:
    cabinet = factories.make_cabinet(shop.site)
    line = only_line(open_order(shop, {key(shop): 3}, cabinet=cabinet))
    services.cut_line(actor=shop.smith, line=line)
    stock = KeyCopy.objects.filter(symbol=key(shop), state="in-cabinet", cabinet=cabinet, site=shop.site)
    assert stock.count() == 3
    assert set(line.copies.all()) == set(stock)


def test_it_says_who_and_when(shop: Workshop) -> None:
    line = services.cut_line(actor=shop.smith, line=only_line(open_order(shop)))
    assert (line.state, line.done_by) == ("done", shop.smith)
    assert line.done_at is not None


def test_the_order_closes_itself_with_its_last_line(shop: Workshop) -> None:
    order = open_order(shop, {key(shop, 0): 1, key(shop, 1): 1})
    states = []
    for line in order.lines.all():
        services.cut_line(actor=shop.smith, line=line)
        order.refresh_from_db()
        states.append(order.state)
    assert states == [WorkOrder.State.UNDER_WAY, WorkOrder.State.DONE]


def test_history_tells_it_at_the_order_and_at_every_copy(shop: Workshop) -> None:
    order = open_order(shop)
    line = services.cut_line(actor=shop.smith, line=only_line(order))
    assert [event.verb for event in history_of(order)] == ["order.done", "order.line_cut", "order.opened"]
    assert [[event.verb for event in history_of(copy)] for copy in line.copies.all()] == [["key.cut"]] * 2


def test_nothing_is_cut_where_the_line_cannot_be_finished(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_args: object) -> None:
        raise Refused("The line cannot be finished.")

    monkeypatch.setattr("keyctl.orders.services.cutting.finish_line", broken)
    with pytest.raises(Refused):
        services.cut_line(actor=shop.smith, line=only_line(open_order(shop)))
    assert not KeyCopy.objects.exists()
    assert not Event.objects.filter(verb__in=["key.cut", "order.line_cut"]).exists()


def test_the_second_one_hears_who_was_first_and_cuts_nothing(shop: Workshop) -> None:
    line = only_line(open_order(shop))
    services.cut_line(actor=shop.smith, line=line)
    with pytest.raises(Conflict, match="Locksmith was first and finished Order"):
        services.cut_line(actor=shop.smith, line=line)
    assert KeyCopy.objects.count() == 2


def test_it_refuses_a_line_of_another_kind_of_order(shop: Workshop) -> None:
    with pytest.raises(Refused, match="is there to pin cores"):
        services.cut_line(actor=shop.smith, line=only_line(shop.pin_order()))


def test_a_line_to_cut_is_not_pinned(shop: Workshop) -> None:
    with pytest.raises(Refused, match="is there to cut keys"):
        services.pin_line(actor=shop.smith, line=only_line(open_order(shop)))


def test_it_refuses_a_line_of_a_cancelled_order(shop: Workshop) -> None:
    order = open_order(shop)
    services.cancel_order(actor=shop.smith, order=order)
    with pytest.raises(Conflict, match="already cancelled"):
        services.cut_line(actor=shop.smith, line=only_line(order))


@pytest.mark.parametrize("role", ["desk", "manager", "officer", "auditor", "requester", "administrator"])
def test_only_a_locksmith_cuts(shop: Workshop, role: str) -> None:
    line = only_line(open_order(shop))
    with pytest.raises(PermissionDenied):
        services.cut_line(actor=shop.cast.everybody[role], line=line)
    line.refresh_from_db()
    assert line.state == OrderLine.State.OPEN


def test_a_locksmith_of_another_site_does_not_find_it(shop: Workshop) -> None:
    with pytest.raises(Http404):
        services.cut_line(actor=shop.cast.stranger, line=only_line(open_order(shop)))


def test_no_bitting_is_in_any_event_of_the_order(shop: Workshop) -> None:
    secret = bitting_of(key(shop))
    services.cut_line(actor=shop.smith, line=only_line(open_order(shop)))
    told = [f"{event.sentence} {event.detail}" for event in Event.objects.all()]
    assert len(told) > 3
    assert not [words for words in told if secret in words]
