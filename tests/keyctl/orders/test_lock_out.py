"""Doors kept shut for a time: a core in the door until a day, the officer's word, the way back."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.cores.models import Core
from keyctl.interim.models import Interim
from keyctl.interim.selectors import interim_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.checklists import points_of
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Housing
from tests import factories
from tests.keyctl.orders.workshop import Workshop, complete, only_line

TODAY = timezone.localdate


def open_it(shop: Workshop, *housings: Housing, **facts: Any) -> WorkOrder:
    given: dict[str, Any] = {
        "title": "Burst pipe",
        "asked_by": "Facilities",
        "until": TODAY() + timedelta(days=3),
    } | facts
    return services.open_lock_out(actor=shop.smith, site=shop.site, housings=housings, **given)


def furnished(shop: Workshop, **facts: Any) -> tuple[Housing, Core]:
    housing = factories.make_housing(shop.site, door=factories.make_door(shop.site, **facts))
    return housing, factories.install(shop.core(), housing)


def shut(shop: Workshop, line: OrderLine) -> OrderLine:
    """As at the door: a temporary core goes in, the door's own comes out."""
    assert line.housing
    line = services.choose_core(actor=shop.smith, line=line, core=shop.core(nth=1))
    assert line.housing
    return complete(line, shop.smith, core_out_id=line.housing.cores.get().pk)


def lift(shop: Workshop, line: OrderLine, **facts: Any) -> OrderLine:
    assert line.core
    assert line.core_out
    version = Core.objects.get(pk=line.core_out.pk).version
    given: dict[str, Any] = {"core_in_version": version, "core_out_id": line.core.pk} | facts
    return complete(line, shop.smith, **given)


def check(shop: Workshop, line: OrderLine, **others: str) -> OrderLine:
    items = {point.key: "good" for point in points_of(line)} | others
    return services.check_line(actor=shop.smith, line=line, items=items)


def test_a_shut_door_holds_a_core_that_must_leave_by_the_day(shop: Workshop) -> None:
    housing, own = shop.furnished()
    order = open_it(shop, housing)
    line = shut(shop, only_line(order))
    temporary = housing.cores.get()
    interim = interim_of(temporary)
    assert interim
    assert (line.is_shut, line.is_open, line.core_out) == (True, True, own)
    assert (interim.until, interim.why) == (order.lock_out.until, f"Keeps shut: {order}")


def test_lifted_and_checked_the_line_is_done_and_nobody_waits_for_the_core(shop: Workshop) -> None:
    housing, own = shop.furnished()
    line = lift(shop, shut(shop, only_line(open_it(shop, housing))))
    assert line.is_open
    assert housing.cores.get() == own
    assert not Interim.objects.filter(ended_at__isnull=True).exists()
    line = check(shop, line)
    assert (line.state, line.order.state) == ("done", "done")


def test_a_door_that_does_not_work_is_not_given_back(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    line = lift(shop, shut(shop, only_line(open_it(shop, housing))))
    assert check(shop, line, latches="bad").is_open
    assert check(shop, line).state == "done"


def test_a_door_is_checked_only_when_its_own_core_is_back(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    line = shut(shop, only_line(open_it(shop, housing)))
    with pytest.raises(Refused, match="not lifted yet"):
        check(shop, line)


@pytest.mark.parametrize("facts", [{"is_egress": True}, {"is_fire_rated": True}])
def test_a_way_out_or_a_fire_rated_door_waits_for_the_officers_word(
    shop: Workshop, facts: dict[str, bool]
) -> None:
    housing, own = furnished(shop, **facts)
    order = open_it(shop, housing)
    with pytest.raises(Refused, match="security officer says in words"):
        shut(shop, only_line(order))
    assert housing.cores.get() == own
    services.allow_ways_out(actor=shop.cast.officer, order=order, word="Stair B is open and signed")
    assert shut(shop, only_line(order)).is_shut


def test_the_word_is_in_words_and_the_officers_own(shop: Workshop) -> None:
    housing, _ = furnished(shop, is_egress=True)
    order = open_it(shop, housing)
    with pytest.raises(Refused, match="which way out"):
        services.allow_ways_out(actor=shop.cast.officer, order=order, word=" ")
    with pytest.raises(PermissionDenied):
        services.allow_ways_out(actor=shop.smith, order=order, word="It will do")


def test_lifting_waits_for_nobodys_word(shop: Workshop) -> None:
    """A door that became a way out while it was shut is opened at once."""
    housing, own = furnished(shop)
    line = shut(shop, only_line(open_it(shop, housing)))
    housing.door.is_egress = True
    housing.door.save(update_fields=["is_egress"])
    lift(shop, OrderLine.objects.get(pk=line.pk))
    assert housing.cores.get() == own


def test_a_swap_waits_until_a_shut_door_has_its_own_core(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    line = only_line(open_it(shop, housing))
    waiting = shop.swap_line(housing)
    temporary = shut(shop, line).core
    assert temporary
    with pytest.raises(Refused, match="kept shut by Order"):
        complete(waiting, shop.smith, core_out_id=temporary.pk)


def test_the_core_that_goes_back_is_promised_to_no_other_door(shop: Workshop) -> None:
    housing, own = shop.furnished()
    shut(shop, only_line(open_it(shop, housing)))
    own.refresh_from_db()
    with pytest.raises(Conflict, match="already stands in order"):
        shop.swap_line(core=own)


def test_another_core_may_go_back_where_the_own_one_is_gone(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    line = shut(shop, only_line(open_it(shop, housing)))
    other = shop.core()
    line = services.choose_core(actor=shop.smith, line=line, core=other)
    lift(shop, line)
    assert housing.cores.get() == other


def test_an_order_is_not_cancelled_while_a_door_is_shut(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    order = open_it(shop, housing)
    line = shut(shop, only_line(order))
    with pytest.raises(Refused, match="still kept shut"):
        services.cancel_order(actor=shop.smith, order=order)
    lift(shop, line)
    services.cancel_order(actor=shop.smith, order=order)


def test_another_day_moves_the_day_of_the_cores_in_the_doors(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    order = open_it(shop, housing)
    shut(shop, only_line(order))
    later = TODAY() + timedelta(days=30)
    services.change_until(actor=shop.smith, order=order, until=later)
    interim = interim_of(housing.cores.get())
    assert interim
    assert interim.until == later


def test_the_officers_word_ends_where_the_day_is_moved_later(shop: Workshop) -> None:
    """Whoever asked for longer asks the officer too: the word was for the day that the officer saw."""
    order = open_it(shop, furnished(shop, is_egress=True)[0])
    services.allow_ways_out(actor=shop.cast.officer, order=order, word="Stair B is open and signed")
    sooner = services.change_until(actor=shop.smith, order=order, until=TODAY() + timedelta(days=2))
    assert sooner.word == "Stair B is open and signed"
    later = services.change_until(actor=shop.smith, order=order, until=TODAY() + timedelta(days=30))
    assert later.word == ""
    with pytest.raises(Refused, match="security officer says in words"):
        shut(shop, only_line(order))
    told = Event.objects.get(verb="order.until_changed", sentence__contains="word")
    assert "officer" in told.sentence


@pytest.mark.parametrize("key", ["own_core", "own_key", "way_out", "free"])
def test_no_door_is_given_back_past_what_people_need(shop: Workshop, key: str) -> None:
    line = lift(shop, shut(shop, only_line(open_it(shop, furnished(shop)[0]))))
    assert line.housing
    line.housing.door.is_egress = True
    line.housing.door.save(update_fields=["is_egress"])
    line = OrderLine.objects.get(pk=line.pk)
    with pytest.raises(Refused, match="not finished"):
        check(shop, line, **{key: "not_applicable"})
    assert not check(shop, line, latches="not_applicable").is_open


def test_it_says_who_asked_a_day_to_come_and_doors_that_lock(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    with pytest.raises(Refused, match="who asked"):
        open_it(shop, housing, asked_by=" ")
    with pytest.raises(Refused, match="is past"):
        open_it(shop, housing, until=TODAY() - timedelta(days=1))
    with pytest.raises(Refused) as refusal:
        open_it(shop, shop.housing())
    assert "No core is in" in refusal.value.reasons[0]


def test_a_door_stands_in_one_open_lock_out(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    open_it(shop, housing)
    with pytest.raises(Refused) as refusal:
        open_it(shop, housing)
    assert "already stands in" in refusal.value.reasons[0]


def test_a_door_that_has_its_own_core_again_gets_no_other(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    line = lift(shop, shut(shop, only_line(open_it(shop, housing))))
    with pytest.raises(Refused, match="its own core again"):
        services.choose_core(actor=shop.smith, line=line, core=shop.core())
