"""Rekey an area: free cores keyed to the keys that are named, pinned, swapped in, and copies cut."""

from typing import Any

import pytest

from keyctl.cores.models import Core
from keyctl.lib.errors import Refused
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Housing
from tests import factories
from tests.keyctl.orders.workshop import Workshop, complete


def open_it(shop: Workshop, *housings: Housing, **facts: Any) -> WorkOrder:
    given: dict[str, Any] = {"title": "East wing", "symbols": [factories.change_key(shop.system, 2)]} | facts
    return services.open_area_order(actor=shop.smith, site=shop.site, housings=housings, **given)


def two_doors(shop: Workshop) -> list[Housing]:
    return [shop.furnished()[0] for _ in range(2)]


def test_worked_to_its_end_every_door_answers_to_the_new_key_alone(shop: Workshop) -> None:
    doors = two_doors(shop)
    for _ in range(2):
        shop.core(pinned=False)
    key, old = factories.change_key(shop.system, 2), factories.change_key(shop.system, 0)
    area = open_it(shop, *doors, copies={key: 3}, cabinet=factories.make_cabinet(shop.site))
    for part in area.parts.order_by("number"):
        for line in part.lines.all():
            work(shop, part, line)
    area.refresh_from_db()
    assert area.state == "done"
    for door in doors:
        turned = door.cores.get().turns.filter(operates=True)
        assert turned.filter(symbol=key).exists()
        assert not turned.filter(symbol=old).exists()
    assert key.copies.count() == 3


def work(shop: Workshop, part: WorkOrder, line: Any) -> None:
    if part.kind == "pin":
        pinned = services.pin_line(actor=shop.smith, line=line)
        services.let_go_untried(actor=shop.smith, line=pinned, why="Tried elsewhere")
    elif part.kind == "cut":
        services.cut_line(actor=shop.smith, line=line)
    else:
        core = Core.objects.get(pk=line.meant_id)
        line = services.choose_core(actor=shop.smith, line=line, core=core)
        complete(line, shop.smith, core_out_id=line.housing.cores.get().pk)


def test_too_few_free_cores_are_told_with_their_number(shop: Workshop) -> None:
    doors = two_doors(shop)
    shop.core(pinned=False)
    with pytest.raises(Refused, match="2 doors, and 1 cores"):
        open_it(shop, *doors)
    assert not WorkOrder.objects.exists()


def test_a_core_that_an_order_names_is_not_free(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    shop.pin_order(shop.core(pinned=False))
    with pytest.raises(Refused, match="0 cores"):
        open_it(shop, housing)


def test_keys_are_named_and_of_one_system_of_the_site(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    with pytest.raises(Refused, match="Choose the keys"):
        open_it(shop, housing, symbols=[])
    foreign = factories.make_system(shop.cast.south, actor=shop.cast.stranger)
    with pytest.raises(Refused, match="not used at"):
        open_it(shop, housing, symbols=[factories.change_key(foreign)])
    both = [factories.change_key(shop.system), factories.change_key(foreign)]
    with pytest.raises(Refused, match="several systems"):
        open_it(shop, housing, symbols=both)


def test_a_door_of_another_construction_is_not_keyed_to_them(shop: Workshop) -> None:
    housing = shop.housing(construction="fixed")
    with pytest.raises(Refused) as refusal:
        open_it(shop, housing)
    assert "takes fixed cores" in refusal.value.reasons[0]


def test_copies_want_a_cabinet(shop: Workshop) -> None:
    housing, _ = shop.furnished()
    with pytest.raises(Refused, match="cabinet"):
        open_it(shop, housing, copies={factories.change_key(shop.system, 2): 2})
