"""Counting, receiving, putting back, throwing away, and low marks."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.audit.selectors import history_of
from keyctl.lib.errors import Conflict, Refused
from keyctl.stock import services
from keyctl.stock.models import PinBin
from tests.keyctl.stock.bench import Bench


def last_move(bin: PinBin) -> tuple[str, int]:
    move = bin.moves.first()
    assert move is not None
    return move.reason, move.change


def test_a_count_replaces_the_record_and_keeps_the_difference(bench: Bench) -> None:
    bench.stock(each=100)
    bin = services.count_pins(actor=bench.smith, bin=bench.bin(), count=93)
    assert (bin.count, last_move(bin)) == (93, ("counted", -7))


def test_a_count_of_what_was_on_record_is_kept_too(bench: Bench) -> None:
    bench.stock(each=100)
    services.count_pins(actor=bench.smith, bin=bench.bin(), count=100)
    assert last_move(bench.bin()) == ("counted", 0)


def test_the_first_count_makes_up_for_what_was_moved_before(bench: Bench) -> None:
    bench.open_kit()
    services.receive_pins(actor=bench.smith, bin=bench.bin(), number=50)
    assert bench.bin().count is None
    services.count_pins(actor=bench.smith, bin=bench.bin(), count=80)
    assert (bench.bin().count, last_move(bench.bin())) == (80, ("counted", 30))


def test_history_of_a_bin_tells_who_counted_it(bench: Bench) -> None:
    bench.open_kit()
    services.count_pins(actor=bench.smith, bin=bench.bin(), count=3)
    event = history_of(bench.bin())[0]
    assert (event.verb, event.actor_name) == ("stock.counted", "Locksmith")
    assert event.sentence == "counted master pins of size 4 at North site"


def test_it_refuses_a_count_that_something_came_between(bench: Bench) -> None:
    bench.stock()
    seen = bench.bin().version
    bench.use({("master", 4): 3})
    with pytest.raises(Conflict, match="moved while you counted") as refused:
        services.count_pins(actor=bench.smith, bin=bench.bin(), count=100, version=seen)
    assert "Master pins of size 4: Locksmith, used -3 at" in refused.value.reasons[0]
    assert bench.bin().count == 97


def test_received_pins_are_added(bench: Bench) -> None:
    bench.stock(each=10)
    services.receive_pins(actor=bench.smith, bin=bench.bin(), number=144, note="Two bags")
    assert (bench.bin().count, last_move(bench.bin())) == (154, ("bought", 144))


@pytest.mark.parametrize(("reason", "after"), [("bought", 12), ("returned", 12), ("scrapped", 8)])
def test_pins_move_by_hand(bench: Bench, reason: str, after: int) -> None:
    bench.stock(each=10)
    assert services.move_pins(actor=bench.smith, bin=bench.bin(), reason=reason, number=2).count == after


def test_it_refuses_to_throw_away_more_than_there_is(bench: Bench) -> None:
    bench.stock(each=10)
    with pytest.raises(Refused, match="hold 10 there, not 11"):
        services.move_pins(actor=bench.smith, bin=bench.bin(), reason="scrapped", number=11)


@pytest.mark.parametrize("reason", ["used", "counted", "discrepancy", "lost"])
def test_it_refuses_other_reasons_by_hand(bench: Bench, reason: str) -> None:
    bench.stock()
    with pytest.raises(Refused, match="bought, put back or thrown away"):
        services.move_pins(actor=bench.smith, bin=bench.bin(), reason=reason, number=1)


@pytest.mark.parametrize("number", [-1, 100_001])
def test_it_refuses_impossible_numbers(bench: Bench, number: int) -> None:
    bench.stock()
    with pytest.raises(Refused, match="Give numbers from"):
        services.count_pins(actor=bench.smith, bin=bench.bin(), count=number)
    with pytest.raises(Refused, match="Give numbers from"):
        services.receive_pins(actor=bench.smith, bin=bench.bin(), number=number)


def test_it_refuses_an_empty_sheet(bench: Bench) -> None:
    with pytest.raises(Refused, match="No number was typed"):
        services.count_bins(actor=bench.smith, site=bench.site, numbers={})


def test_it_refuses_a_bin_of_another_site(bench: Bench) -> None:
    bench.stock()
    services.open_kit(actor=bench.cast.stranger, site=bench.cast.south, format=bench.format)
    foreign = PinBin.objects.filter(site=bench.cast.south)[0]
    with pytest.raises(Refused, match="is not at North site"):
        services.count_bins(actor=bench.smith, site=bench.site, numbers={foreign.pk: 1})
    with pytest.raises(Http404):
        services.count_pins(actor=bench.smith, bin=foreign, count=1)


def test_a_bin_is_low_at_its_mark_and_below(bench: Bench) -> None:
    bench.stock(each=20, low_at=20)
    assert bench.bin().is_low
    services.set_low_mark(actor=bench.smith, bin=bench.bin(), low_at=19)
    assert not bench.bin().is_low


def test_an_uncounted_bin_is_not_called_low(bench: Bench) -> None:
    bench.open_kit(low_at=20)
    assert not bench.bin().is_low


@pytest.mark.parametrize("who", ["desk", "manager", "officer", "auditor", "administrator"])
def test_only_locksmiths_touch_the_bins(bench: Bench, who: str) -> None:
    bench.stock()
    actor, bin = bench.cast.everybody[who], bench.bin()
    with pytest.raises(PermissionDenied):
        services.count_pins(actor=actor, bin=bin, count=1)
    with pytest.raises(PermissionDenied):
        services.receive_pins(actor=actor, bin=bin, number=1)
    with pytest.raises(PermissionDenied):
        services.move_pins(actor=actor, bin=bin, reason="scrapped", number=1)
    with pytest.raises(PermissionDenied):
        services.set_low_mark(actor=actor, bin=bin, low_at=1)
