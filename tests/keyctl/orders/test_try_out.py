"""A core that an order pinned is tried before it leaves the bench, or somebody says why not."""

from collections.abc import Callable
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied

from keyctl.audit.selectors import history_of
from keyctl.cores.models import Core
from keyctl.cores.services import move_core, pin_core
from keyctl.lib.errors import Conflict, Refused
from keyctl.orders import services
from keyctl.orders.models import OrderLine
from keyctl.orders.services.trying import LOOK_AT
from keyctl.systems.models import KeySymbol
from tests import factories
from tests.keyctl.orders.workshop import Workshop, complete, only_line


@pytest.fixture
def line(shop: Workshop) -> OrderLine:
    return services.pin_line(actor=shop.smith, line=only_line(shop.pin_order()))


def core_of(line: OrderLine) -> Core:
    assert line.core_id
    return Core.objects.get(pk=line.core_id)


def as_expected(shop: Workshop, line: OrderLine) -> dict[Any, str]:
    return {key.symbol.pk: key.expected for key in services.keys_due(actor=shop.smith, line=line)}


def try_out(shop: Workshop, line: OrderLine, **facts: Any) -> Any:
    given: dict[str, Any] = {"tag": core_of(line).tag, "found": as_expected(shop, line)} | facts
    return services.record_try_out(actor=shop.smith, line=line, **given)


def test_its_own_key_a_master_the_control_key_and_a_strange_one_are_tried(
    shop: Workshop, line: OrderLine
) -> None:
    """By the plan: the change key and the top master turn it, the control key takes it out."""
    due = services.keys_due(actor=shop.smith, line=line)
    own, top = factories.change_key(shop.system), shop.system.symbols.get(level=0)
    control = shop.system.symbols.get(kind=KeySymbol.Kind.CONTROL)
    assert [(key.symbol, key.expected) for key in due[:3]] == [
        (own, "turns"),
        (top, "turns"),
        (control, "withdraws"),
    ]
    assert due[3].expected == "nothing"
    assert not core_of(line).turns.filter(symbol=due[3].symbol).exists()


LEAVES: dict[str, Callable[[Workshop, Core], object]] = {
    "to the shelf": lambda shop, core: move(shop, core, "shelf"),
    "into a case": lambda shop, core: move(shop, core, "case"),
    "for a door": lambda shop, core: shop.swap_line(core=core),
}


def move(shop: Workshop, core: Core, place: str) -> Core:
    return move_core(actor=shop.smith, core=core, version=core.version, place=place)


@pytest.mark.parametrize("way", LEAVES)
def test_until_then_it_does_not_leave(shop: Workshop, line: OrderLine, way: str) -> None:
    Core.objects.filter(pk=core_of(line).pk).update(place="bench")
    with pytest.raises(Refused, match="not tried since"):
        LEAVES[way](shop, core_of(line))
    try_out(shop, line)
    LEAVES[way](shop, core_of(line))


def test_it_goes_back_to_the_bench_and_away_for_good(shop: Workshop, line: OrderLine) -> None:
    move(shop, core_of(line), "bench")
    move(shop, core_of(line), "gone")


def test_a_core_chosen_before_it_was_pinned_anew_waits_at_the_door(shop: Workshop) -> None:
    core = shop.core()
    waiting = shop.swap_line(core=core)
    OrderLine.objects.filter(pk=waiting.pk).update(core=None, meant=core)
    pinned = services.pin_line(actor=shop.smith, line=only_line(shop.pin_order(core)))
    OrderLine.objects.filter(pk=waiting.pk).update(core=core)
    waiting.refresh_from_db()
    with pytest.raises(Refused, match="not tried since"):
        complete(waiting, shop.smith, core_in_version=core_of(pinned).version)


def test_a_key_that_does_something_else_keeps_it_there(shop: Workshop, line: OrderLine) -> None:
    found = as_expected(shop, line)
    own = next(iter(found))
    made = try_out(shop, line, found=found | {own: "nothing"})
    assert made.outcome == "wrong"
    wrong = made.keys.get(symbol=own)
    assert "binds" in services.look_at(wrong)
    with pytest.raises(Refused, match="something else than its pins say"):
        shop.swap_line(core=core_of(line))


def test_tried_again_and_good_it_leaves(shop: Workshop, line: OrderLine) -> None:
    found = as_expected(shop, line)
    try_out(shop, line, found=dict.fromkeys(found, "nothing"))
    assert try_out(shop, line).outcome == "good"
    assert shop.swap_line(core=core_of(line)).is_open
    line.refresh_from_db()
    assert [made.outcome for made in line.try_outs.all()] == ["wrong", "good"]


def test_there_are_words_for_every_way_to_differ() -> None:
    effects = {"turns", "withdraws", "nothing"}
    assert {(str(a), str(b)) for a, b in LOOK_AT} == {(a, b) for a in effects for b in effects if a != b}


def test_somebody_lets_it_go_untried_and_says_why(shop: Workshop, line: OrderLine) -> None:
    with pytest.raises(Refused, match="Say why"):
        services.let_go_untried(actor=shop.smith, line=line, why=" ")
    services.let_go_untried(actor=shop.smith, line=line, why="No key of it is cut yet")
    assert shop.swap_line(core=core_of(line)).is_open
    assert "No key of it is cut yet" in history_of(line.order)[0].sentence


def test_the_core_in_hand_is_the_one_of_the_page(shop: Workshop, line: OrderLine) -> None:
    other = shop.core()
    with pytest.raises(Refused, match=f"You hold core {other}"):
        try_out(shop, line, tag=other.tag)
    with pytest.raises(Refused, match="has this tag"):
        try_out(shop, line, tag="????")


def test_its_own_key_is_tried_and_others_may_be_missing(shop: Workshop, line: OrderLine) -> None:
    found = as_expected(shop, line)
    own = next(iter(found))
    with pytest.raises(Refused, match="not kept"):
        try_out(shop, line, found={pk: did for pk, did in found.items() if pk != own})
    assert try_out(shop, line, found={own: found[own]}).keys.count() == 1


def test_it_is_tried_once_it_is_good(shop: Workshop, line: OrderLine) -> None:
    try_out(shop, line)
    with pytest.raises(Conflict, match="owes no try-out"):
        services.let_go_untried(actor=shop.smith, line=line, why="Again")


def test_a_core_pinned_anew_elsewhere_owes_nothing_to_the_older_order(
    shop: Workshop, line: OrderLine
) -> None:
    core = core_of(line)
    pin_core(actor=shop.smith, core=core, version=core.version)
    assert shop.swap_line(core=core_of(line)).is_open
    with pytest.raises(Conflict, match="pinned anew"):
        services.let_go_untried(actor=shop.smith, line=line, why="Old")


def test_cores_pinned_before_or_by_no_order_owe_nothing(shop: Workshop, line: OrderLine) -> None:
    OrderLine.objects.filter(pk=line.pk).update(trying="")
    assert shop.swap_line(core=core_of(line)).is_open
    assert shop.swap_line(core=shop.core()).is_open


def test_only_a_locksmith_tries(shop: Workshop, line: OrderLine) -> None:
    with pytest.raises(PermissionDenied):
        services.let_go_untried(actor=shop.cast.officer, line=line, why="It will do")


def test_history_tells_of_it_without_a_cut(shop: Workshop, line: OrderLine) -> None:
    try_out(shop, line)
    event = history_of(line.order)[0]
    assert (
        event.sentence == f"tried core {line.core}: every key did what it should, order {line.order.number}"
    )
    assert event.detail == {"line": 1, "trying": "good"}
