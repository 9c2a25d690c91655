"""Pinning all open lines of an order as a job."""

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.cores.models import Core, Turn
from keyctl.cores.services import dispute_cores
from keyctl.jobs.models import Job
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from keyctl.stock.models import PinMove
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.orders.workshop import Workshop

pytestmark = pytest.mark.django_db


def test_every_core_is_pinned_and_the_order_is_done(shop: Workshop) -> None:
    cores = [shop.core(pinned=False, nth=nth) for nth in range(3)]
    order = shop.pin_order(*cores)
    job = finish(services.start_pin_all(actor=shop.smith, order=order))
    assert job.state == Job.State.DONE
    order.refresh_from_db()
    assert order.state == WorkOrder.State.DONE
    assert all(core.is_pinned for core in Core.objects.filter(pk__in=[core.pk for core in cores]))
    assert Turn.objects.filter(core__in=cores).exists()
    assert PinMove.objects.filter(order=str(order)).exists()
    assert Event.objects.filter(verb="order.lines_pinned").count() == 1


def test_pinned_one_by_one_or_all_at_once_the_pins_and_turns_are_the_same(shop: Workshop) -> None:
    one, all_at_once = (shop.core(pinned=False) for _ in range(2))
    services.pin_line(actor=shop.smith, line=shop.pin_order(one).lines.get())
    finish(services.start_pin_all(actor=shop.smith, order=shop.pin_order(all_at_once)))
    turns = [
        set(Turn.objects.filter(core=core).values_list("symbol", "operates", "withdraws"))
        for core in (one, all_at_once)
    ]
    assert turns[0] == turns[1]


def test_a_core_that_holds_pins_is_pinned_anew(shop: Workshop) -> None:
    core = shop.core()
    before = core.pinned_at
    finish(services.start_pin_all(actor=shop.smith, order=shop.pin_order(core)))
    core.refresh_from_db()
    assert core.pinned_at
    assert before
    assert core.pinned_at > before


@pytest.mark.parametrize("why", ["disputed", "in a door"])
def test_a_core_that_is_not_at_hand_holds_up_no_other(shop: Workshop, why: str) -> None:
    good, away = (shop.core(pinned=False) for _ in range(2))
    order = shop.pin_order(good, away)
    if why == "disputed":
        dispute_cores(cores=[away.pk], over="case 1")
    else:
        factories.install(away, factories.make_housing(shop.site))
    job = finish(services.start_pin_all(actor=shop.smith, order=order))
    assert job.state == Job.State.DONE
    assert Core.objects.get(pk=good.pk).is_pinned
    assert not Core.objects.get(pk=away.pk).is_pinned
    assert order.lines.get(core=away).is_open


def test_a_core_that_cannot_be_pinned_stays_open_and_is_named(shop: Workshop) -> None:
    good, bad = (shop.core(pinned=False) for _ in range(2))
    order = shop.pin_order(good, bad)
    bad.keyings.all().delete()
    job = finish(services.start_pin_all(actor=shop.smith, order=order))
    assert str(bad) in job.outcome["sentence"]
    assert order.lines.filter(state="done").count() == 1


def test_not_twice_at_once_and_not_for_other_work(shop: Workshop) -> None:
    order = shop.pin_order()
    services.start_pin_all(actor=shop.smith, order=order)
    with pytest.raises(Conflict, match="being pinned already"):
        services.start_pin_all(actor=shop.smith, order=order)
    with pytest.raises(Refused, match="swap cores"):
        services.start_pin_all(actor=shop.smith, order=shop.swap_order())


def test_only_locksmiths(shop: Workshop, cast: Cast, client: Client) -> None:
    order = shop.pin_order()
    with pytest.raises(PermissionDenied):
        services.start_pin_all(actor=cast.officer, order=order)
    client.force_login(shop.smith)
    assert client.post(reverse("orders:pin-all", args=[order.pk])).status_code == 302
