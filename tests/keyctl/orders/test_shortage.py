"""Open pin orders foretell the pins they will take; only locksmiths see it, in sums."""

from collections import Counter

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.http import Http404
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from keyctl import engine
from keyctl.audit.models import Event
from keyctl.cores import services as cores
from keyctl.cores.models import Core, Keying
from keyctl.cores.services import plan_of
from keyctl.cores.turning import pins_of
from keyctl.lib.errors import Refused
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from keyctl.orders.shortage import Shortage, demand_at, shortage_of
from keyctl.stock import services as stock
from keyctl.stock.families import family_id, pins_in
from keyctl.stock.models import PinBin, PinMove
from keyctl.stock.selectors import reorder_list
from tests import factories
from tests.keyctl.orders.workshop import Workshop, only_line

A2 = "small-a2-7"


def stock_up(shop: Workshop, each: int, low_at: int = 0) -> None:
    stock.stock_kit(actor=shop.smith, site=shop.site, format=engine.load_format(A2), each=each, low_at=low_at)


def planned(*chosen: Core) -> Counter[tuple[str, str, int]]:
    """What `plan_of` says, core by core."""
    sums: Counter[tuple[str, str, int]] = Counter()
    for core in chosen:
        plan = plan_of(core)
        sums.update({(family_id(plan.format), *pin): number for pin, number in pins_in(plan).items()})
    return sums


def unbuildable(shop: Workshop) -> WorkOrder:
    """An order whose second core refuses to be pinned, as a core keyed to too much does."""
    good, bad = shop.core(pinned=False), shop.core(pinned=False)
    order = shop.pin_order(good, bad)
    wrong = factories.make_system(shop.site, actor=shop.cast.administrator, format_id="small-a4-7")
    Keying.objects.create(core=bad, symbol=factories.change_key(wrong))
    return order


def shortage(shop: Workshop, order: WorkOrder) -> Shortage:
    return shortage_of(shop.smith, order)


def test_the_demand_is_what_the_plans_say(shop: Workshop) -> None:
    chosen = [shop.core(pinned=False, nth=nth) for nth in range(3)]
    shop.pin_order(*chosen[:2])
    shop.pin_order(chosen[2])
    assert demand_at(shop.site).pins == planned(*chosen)


def test_a_core_keyed_to_two_keys_needs_the_pins_of_both(shop: Workshop) -> None:
    symbols = [factories.change_key(shop.system, 0), factories.change_key(shop.system, 3)]
    core = factories.make_core(
        actor=shop.smith, site=shop.site, system=shop.system, symbols=symbols, pinned=False
    )
    shop.pin_order(core)
    assert demand_at(shop.site).pins == planned(core)


def test_what_is_pinned_or_cancelled_asks_for_nothing_more(shop: Workshop) -> None:
    done, waiting = shop.core(pinned=False), shop.core(pinned=False, nth=1)
    order = shop.pin_order(done, waiting)
    services.cancel_order(actor=shop.smith, order=shop.pin_order())
    services.pin_line(actor=shop.smith, line=order.lines.get(core=done))
    assert demand_at(shop.site).pins == planned(waiting)


def test_other_sites_and_swaps_ask_for_nothing_here(shop: Workshop) -> None:
    shop.swap_line()
    services.open_pin_order(
        actor=shop.cast.stranger, site=shop.cast.south, title="There", cores=[shop.foreign_core()]
    )
    assert not demand_at(shop.site).pins


def test_with_full_bins_nothing_is_short(shop: Workshop) -> None:
    stock_up(shop, each=100)
    found = shortage(shop, shop.pin_order())
    assert (found.cores, found.short, found.uncounted) == (1, [], [])
    assert sum(number for _, number in found.by_role) == sum(planned(Core.objects.get()).values())


def test_with_empty_bins_everything_is_short(shop: Workshop) -> None:
    stock_up(shop, each=0)
    found = shortage(shop, shop.pin_order())
    assert {(need.role, need.size): need.short for need in found.short} == pins_in(
        plan_of(Core.objects.get())
    )


def test_uncounted_bins_are_told_apart_from_short_ones(shop: Workshop) -> None:
    found = shortage(shop, shop.pin_order())
    assert found.short == []
    assert len(found.uncounted) == len(found.needs) > 0


def test_a_plan_that_cannot_be_pinned_is_told_and_the_others_counted(shop: Workshop) -> None:
    order = unbuildable(shop)
    good, bad = (line.core for line in order.lines.order_by("ordinal"))
    assert good is not None
    assert bad is not None
    with pytest.raises(Refused):
        plan_of(bad)
    demand = demand_at(shop.site)
    assert demand.pins == planned(good)
    assert demand.untold == (
        f"Core {bad} cannot be pinned as it is keyed; its pins are not in these figures.",
    )


def test_pinning_books_the_pins_of_the_core(shop: Workshop) -> None:
    stock_up(shop, each=100)
    line = services.pin_line(actor=shop.smith, line=only_line(shop.pin_order()))
    assert line.core is not None
    used = {
        (move.bin.role, move.bin.size): -move.change
        for move in PinMove.objects.filter(reason="used").select_related("bin")
    }
    assert used == pins_in(pins_of(line.core))
    assert {move.order for move in PinMove.objects.filter(reason="used")} == {str(line.order)}


def test_pinning_is_never_held_up_by_the_bins(shop: Workshop) -> None:
    stock_up(shop, each=0)
    line = services.pin_line(actor=shop.smith, line=only_line(shop.pin_order()))
    assert line.state == "done"
    assert set(PinBin.objects.filter(is_doubtful=True).values_list("count", flat=True)) == {0}


def test_a_pinning_that_is_refused_books_nothing(shop: Workshop) -> None:
    bad = unbuildable(shop).lines.order_by("ordinal")[1]
    with pytest.raises(Refused):
        services.pin_line(actor=shop.smith, line=bad)
    assert not PinMove.objects.exists()
    assert not PinBin.objects.exists()


def test_a_core_pinned_again_is_built_of_new_pins(shop: Workshop) -> None:
    stock_up(shop, each=100)
    core = shop.core()
    core = cores.move_core(actor=shop.smith, core=core, version=core.version, place=Core.Place.BENCH)
    services.pin_line(actor=shop.smith, line=only_line(shop.pin_order(core)))
    assert -sum(move.change for move in PinMove.objects.filter(reason="used")) == sum(planned(core).values())


def test_the_reorder_list_knows_of_open_orders(shop: Workshop) -> None:
    stock_up(shop, each=1)
    shop.pin_order(shop.core(pinned=False), shop.core(pinned=False))
    needed = demand_at(shop.site).pins
    lines = {(need.family.id, need.role, need.size): need for need in reorder_list(shop.site).lines}
    # One pin in each bin and the low mark at nothing: what is needed at all leaves a bin low.
    assert {key: need.to_buy for key, need in lines.items()} == dict(needed)


def test_history_of_the_booking_tells_no_size(shop: Workshop) -> None:
    stock_up(shop, each=100)
    line = services.pin_line(actor=shop.smith, line=only_line(shop.pin_order()))
    event = Event.objects.get(verb="stock.used")
    assert event.sentence.endswith(f"pins of Small-format core, A2 system for {line.order}")
    assert set(event.detail) == {"pins", "family", "short"}


@pytest.mark.parametrize("who", ["desk", "manager", "officer", "auditor", "administrator"])
def test_only_locksmiths_are_told(shop: Workshop, client: Client, who: str) -> None:
    order = shop.pin_order()
    with pytest.raises(PermissionDenied):
        shortage_of(shop.cast.everybody[who], order)
    client.force_login(shop.cast.everybody[who])
    assert client.get(reverse("orders:pins-needed", args=[order.pk])).status_code == 403


def test_a_stranger_finds_nothing(shop: Workshop, client: Client) -> None:
    order = shop.pin_order()
    with pytest.raises(Http404):
        shortage_of(shop.cast.stranger, order)
    client.force_login(shop.cast.stranger)
    assert client.get(reverse("orders:pins-needed", args=[order.pk])).status_code == 404


@pytest.fixture
def smith(shop: Workshop, client: Client) -> Client:
    client.force_login(shop.smith)
    return client


def page(client: Client, order: WorkOrder, **headers: str) -> str:
    answer = client.get(reverse("orders:pins-needed", args=[order.pk]), headers=headers)
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_order_leads_its_locksmith_to_the_pins(shop: Workshop, smith: Client) -> None:
    order = shop.pin_order()
    text = smith.get(reverse("orders:detail", args=[order.pk])).content.decode()
    assert f'hx-get="{reverse("orders:pins-needed", args=[order.pk])}"' in text
    assert f'href="{reverse("orders:pins-needed", args=[order.pk])}"' in text


def test_readers_of_an_order_are_not_led_to_the_pins(shop: Workshop, client: Client) -> None:
    order = shop.pin_order()
    client.force_login(shop.cast.auditor)
    assert (
        "Pins this order needs" not in client.get(reverse("orders:detail", args=[order.pk])).content.decode()
    )


def test_htmx_gets_the_figures_without_the_frame(shop: Workshop, smith: Client) -> None:
    part = page(smith, shop.pin_order(), **{"HX-Request": "true"})
    assert "1 core to pin: 7 bottom pins" in part
    assert "<html" not in part


def test_what_is_there_in_plenty_is_not_named_by_size(shop: Workshop, smith: Client) -> None:
    stock_up(shop, each=100)
    text = page(smith, shop.pin_order())
    assert "Nothing is short" in text
    assert "size" not in text.split("</h1>")[1]


def test_what_is_short_is_named_with_its_bin(shop: Workshop, smith: Client) -> None:
    stock_up(shop, each=100)
    order = shop.pin_order()
    need = shortage(shop, order).needs[0]
    assert need.bin is not None
    stock.count_pins(actor=shop.smith, bin=need.bin, count=0)
    text = page(smith, order)
    assert need.name in text
    assert f"{need.needed} short" in text
    assert reverse("stock:bin", args=[need.bin.pk]) in text


def test_an_order_without_open_cores_says_so(shop: Workshop, smith: Client) -> None:
    assert "No core of this order waits" in page(smith, shop.swap_order())


def test_the_number_of_queries_does_not_grow_with_the_cores(shop: Workshop, smith: Client) -> None:
    def queries(order: WorkOrder) -> int:
        with CaptureQueriesContext(connection) as seen:
            page(smith, order)
        return len(seen)

    chosen = [shop.core(pinned=False, nth=nth % 4) for nth in range(6)]
    assert queries(shop.pin_order(chosen[0])) == queries(shop.pin_order(*chosen[1:]))
