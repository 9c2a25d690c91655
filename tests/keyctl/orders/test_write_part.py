"""The order of an area and its parts: written one after another, ended with the last."""

import pytest

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import listening, services
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.orders.services import Part, closing
from tests.keyctl.orders.workshop import Workshop, complete


def an_area(shop: Workshop, *, more_to_come: bool = False) -> WorkOrder:
    return services.write_area(actor=shop.smith, site=shop.site, title="East wing", more_to_come=more_to_come)


def a_part(shop: Workshop, area: WorkOrder, *, pinned: bool = False) -> Part:
    housing, _ = shop.furnished()
    core = shop.core(pinned=pinned, nth=1)
    to_pin: list[Core] | None = [] if pinned else None
    return services.write_part(
        actor=shop.smith, area=area, title="Wave", pairs={housing: core}, to_pin=to_pin
    )


def work(shop: Workshop, part: Part) -> None:
    if part.pin:
        line = services.pin_line(actor=shop.smith, line=part.pin.lines.get())
        services.let_go_untried(actor=shop.smith, line=line, why="Tried elsewhere")
    swap(shop, part.swap.lines.get())


def swap(shop: Workshop, line: OrderLine) -> OrderLine:
    assert line.meant
    assert line.housing
    line.meant.refresh_from_db()
    line = services.choose_core(actor=shop.smith, line=line, core=line.meant)
    assert line.housing
    return complete(line, shop.smith, core_out_id=line.housing.cores.get().pk)


def state_of(order: WorkOrder) -> str:
    return WorkOrder.objects.get(pk=order.pk).state


def test_a_part_pins_the_cores_and_swaps_each_into_its_door(shop: Workshop) -> None:
    area = an_area(shop)
    part = a_part(shop, area)
    assert part.pin
    assert (part.pin.kind, part.swap.kind) == ("pin", "swap")
    assert {part.pin.part_of, part.swap.part_of} == {area}
    assert part.pin.lines.get().core == part.swap.lines.get().meant


def test_a_part_of_pinned_cores_has_no_pin_order(shop: Workshop) -> None:
    assert a_part(shop, an_area(shop), pinned=True).pin is None


def test_the_area_is_under_way_with_its_first_line_and_done_with_its_last(shop: Workshop) -> None:
    area = an_area(shop)
    first, second = a_part(shop, area), a_part(shop, area, pinned=True)
    work(shop, first)
    assert state_of(area) == "under_way"
    work(shop, second)
    assert state_of(area) == "done"


def test_an_area_with_more_to_come_stays_open_until_no_more_is_said(shop: Workshop) -> None:
    area = an_area(shop, more_to_come=True)
    work(shop, a_part(shop, area, pinned=True))
    assert state_of(area) == "under_way"
    services.no_more_parts(actor=shop.smith, area=area)
    assert state_of(area) == "done"


def test_cancelling_the_area_cancels_what_is_open_in_it(shop: Workshop) -> None:
    area = an_area(shop)
    done, left = a_part(shop, area, pinned=True), a_part(shop, area)
    work(shop, done)
    services.cancel_order(actor=shop.smith, order=area)
    assert left.pin
    states = [state_of(order) for order in (area, done.swap, left.pin, left.swap)]
    assert states == ["cancelled", "done", "cancelled", "cancelled"]


def test_an_area_whose_parts_are_all_cancelled_is_cancelled(shop: Workshop) -> None:
    area = an_area(shop)
    part = a_part(shop, area, pinned=True)
    services.cancel_order(actor=shop.smith, order=part.swap)
    assert state_of(area) == "cancelled"


def test_only_an_open_area_gets_parts(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    with pytest.raises(Refused, match="only an area has parts"):
        services.write_part(
            actor=shop.smith, area=shop.pin_order(), title="Wave", pairs={housing: shop.core()}
        )
    area = an_area(shop)
    services.cancel_order(actor=shop.smith, order=area)
    with pytest.raises(Conflict, match="already cancelled"):
        a_part(shop, area)


def test_listeners_hear_of_swaps_and_of_doors_that_were_not_reached(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[tuple[str, User, OrderLine]] = []
    monkeypatch.setattr(listening, "_of_swaps", [lambda who, line: heard.append(("swap", who, line))])
    monkeypatch.setattr(listening, "_of_unreached", [lambda who, line, why: heard.append((why, who, line))])
    part = a_part(shop, an_area(shop), pinned=True)
    line = part.swap.lines.get()
    services.report_unreached(actor=shop.smith, line=line, reason="Locked off")
    swap(shop, line)
    assert heard == [("Locked off", shop.smith, line), ("swap", shop.smith, line)]


def test_no_part_stays_open_under_an_area_that_is_cancelled(
    shop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A wave begins after the parts were listed and before the area was held."""
    area, held = an_area(shop), closing.locked_order
    a_part(shop, area)

    def late(actor: User, order: WorkOrder) -> WorkOrder:
        a_part(shop, area)
        return held(actor, order)

    with monkeypatch.context() as patch:
        patch.setattr(closing, "locked_order", late)
        with pytest.raises(Conflict, match="written meanwhile"):
            services.cancel_order(actor=shop.smith, order=area)
    services.cancel_order(actor=shop.smith, order=area)
    assert not area.parts.unfinished().exists()
