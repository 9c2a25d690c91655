"""The sequence at the bench: kit by kit, like cores one after another."""

from collections import Counter
from itertools import pairwise, permutations
from typing import Any

from keyctl.cores.turning import pins_of
from keyctl.orders import services
from keyctl.orders.models import OrderLine
from keyctl.orders.sequence import bench_sequence
from keyctl.stock.families import pins_in
from tests import factories
from tests.keyctl.orders.workshop import Workshop


def new_pins(lines: list[OrderLine]) -> int:
    """How many pins are taken that the core before did not take; counted here by itself."""
    taken = [Counter(pins_in(pins_of(line.core))) for line in lines if line.core]
    return sum(
        sum(max(0, number - first[pin]) for pin, number in second.items())
        for first, second in pairwise(taken)
    )


def test_cores_of_one_key_lie_beside_each_other_and_the_walk_is_near_the_best(shop: Workshop) -> None:
    keys = [0, 1, 2, 0, 3]
    order = shop.pin_order(*(shop.core(pinned=False, nth=nth) for nth in keys))
    for line in order.lines.all():
        services.pin_line(actor=shop.smith, line=line)
    lines = bench_sequence(order)
    assert len(lines) == len(keys)
    twins = [line.core.keyed_to.get().symbol for line in lines if line.core]
    assert any(first == second for first, second in pairwise(twins))
    best = min(new_pins(list(way)) for way in permutations(lines))
    worst = max(new_pins(list(way)) for way in permutations(lines))
    assert best < worst
    assert new_pins(lines) <= best + (worst - best) / 2


def test_a_kit_is_opened_once(shop: Workshop) -> None:
    other = factories.make_system(shop.site, actor=shop.cast.administrator, format_id="small-a4-7")
    facts: dict[str, Any] = {"actor": shop.smith, "site": shop.site, "system": other, "pinned": False}
    cores = [shop.core(pinned=False), factories.make_core(**facts), shop.core(pinned=False, nth=1)]
    cores.append(factories.make_core(symbols=[factories.change_key(other, 1)], **facts))
    formats = [line.core.format_id for line in bench_sequence(shop.pin_order(*cores)) if line.core]
    assert formats in (
        ["small-a2-7", "small-a2-7", "small-a4-7", "small-a4-7"],
        ["small-a4-7", "small-a4-7", "small-a2-7", "small-a2-7"],
    )


def test_lines_to_pin_and_pinned_ones_stand_in_one_sequence(shop: Workshop) -> None:
    order = shop.pin_order(*(shop.core(pinned=False, nth=nth) for nth in (0, 1, 2)))
    before = [line.pk for line in bench_sequence(order)]
    services.pin_line(actor=shop.smith, line=order.lines.all()[1])
    assert [line.pk for line in bench_sequence(order)] == before
