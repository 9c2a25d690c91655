"""Cores whose pins nobody knows: a line is done when the records hold them."""

import pytest

from keyctl import engine
from keyctl.bench.services import record_found_pins
from keyctl.cores.models import Core
from keyctl.cores.services import pin_core
from keyctl.lib.errors import Refused
from keyctl.orders import services
from keyctl.orders.models import WorkOrder
from tests.keyctl.orders.workshop import Workshop, only_line

# The key 361492 (pins of a core that one key turns, seven positions of system A2) with a control key.
FOUND = engine.dump(engine.pin("small-a2-7", ["3614925"], "7438107"))


def open_it(shop: Workshop, *cores: Core) -> WorkOrder:
    return services.open_decode_order(actor=shop.smith, site=shop.site, title="Old stock", cores=cores)


def test_what_the_bench_finds_ends_the_line_and_the_order(shop: Workshop) -> None:
    core = shop.core(pinned=False)
    order = open_it(shop, core)
    record_found_pins(actor=shop.smith, core=core, version=core.version, stacks=FOUND, despite_doubts=True)
    order.refresh_from_db()
    assert (only_line(order).state, order.state) == ("done", "done")


def test_a_core_found_without_an_order_ends_nothing(shop: Workshop) -> None:
    core, order = shop.core(pinned=False), open_it(shop, shop.core(pinned=False))
    record_found_pins(actor=shop.smith, core=core, version=core.version, stacks=FOUND, despite_doubts=True)
    assert only_line(order).is_open


def test_pins_that_came_by_another_way_are_said_to_be_known(shop: Workshop) -> None:
    core = shop.core(pinned=False)
    line = only_line(open_it(shop, core))
    with pytest.raises(Refused, match="hold no pins"):
        services.finish_decoded(actor=shop.smith, line=line)
    pin_core(actor=shop.smith, core=core, version=core.version)
    assert services.finish_decoded(actor=shop.smith, line=line).state == "done"


def test_a_core_whose_pins_are_known_or_that_is_in_a_door_is_not_decoded(shop: Workshop) -> None:
    _, in_door = shop.furnished()
    Core.objects.filter(pk=in_door.pk).update(pinning=None, pinned_at=None, pinned_by=None)
    with pytest.raises(Refused) as refusal:
        open_it(shop, shop.core(), in_door)
    assert ["records hold" in refusal.value.reasons[0], "Swap it out" in refusal.value.reasons[1]] == [
        True,
        True,
    ]
