"""What a job used is booked whatever the records say: the core is built."""

import random
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.db.models import Sum
from django.test.utils import CaptureQueriesContext

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.stock import services
from keyctl.stock.models import PinBin, PinMove
from tests.keyctl.stock.bench import Bench

STEPS = 150


def moves(bin: PinBin) -> list[tuple[str, int]]:
    return list(bin.moves.order_by("at").values_list("reason", "change"))


def test_used_pins_leave_their_bins(bench: Bench) -> None:
    bench.stock(each=10)
    doubtful = bench.use({("master", 4): 3, ("bottom", 0): 1})
    assert (bench.bin().count, bench.bin("bottom", 0).count, doubtful) == (7, 9, [])


def test_a_movement_names_the_order(bench: Bench) -> None:
    bench.stock()
    bench.use({("master", 4): 3}, order="Order 12")
    move = bench.bin().moves.get(reason="used")
    assert (move.order, move.change, move.by) == ("Order 12", -3, bench.smith)


def test_use_without_bins_opens_them_and_leaves_the_count_unknown(bench: Bench) -> None:
    bench.use({("master", 4): 3})
    assert PinBin.objects.filter(site=bench.site, count__isnull=True).count() == 64
    assert moves(bench.bin()) == [("used", -3)]


def test_the_first_count_afterwards_is_what_was_found(bench: Bench) -> None:
    bench.use({("master", 4): 3})
    services.count_pins(actor=bench.smith, bin=bench.bin(), count=40)
    assert bench.bin().count == 40
    assert bench.bin().moves.aggregate(sum=Sum("change"))["sum"] == 40


def test_a_bin_that_held_too_little_stands_at_nothing_and_asks_for_a_count(bench: Bench) -> None:
    bench.stock(each=2)
    doubtful = bench.use({("master", 4): 5})
    bin = bench.bin()
    assert (bin.count, bin.is_doubtful, doubtful) == (0, True, [bin])
    assert moves(bin) == [("counted", 2), ("used", -5), ("discrepancy", 3)]
    assert bin.moves.get(reason="discrepancy").note == "The records held 2 and 5 were used. Count this bin."


def test_a_count_ends_the_doubt(bench: Bench) -> None:
    bench.stock(each=2)
    bench.use({("master", 4): 5})
    services.count_pins(actor=bench.smith, bin=bench.bin(), count=6)
    assert (bench.bin().count, bench.bin().is_doubtful) == (6, False)


def test_the_event_names_no_size_and_no_bin(bench: Bench) -> None:
    bench.stock(each=2)
    bench.use({("master", 4): 5, ("top", 11): 1})
    event = Event.objects.get(verb="stock.used")
    assert event.sentence == (
        "booked 6 pins of Small-format core, A2 system for Order 7; "
        "1 bin held fewer than was used, to be counted"
    )
    assert not event.subjects.exists()
    assert [event.verb for event in history_of(bench.bin())] == ["stock.counted", "stock.kit_opened"]


def test_a_pin_that_no_kit_has_is_a_fault_of_the_program(bench: Bench) -> None:
    with pytest.raises(ValueError, match="does not have"):
        bench.use({("master", 99): 1})


def test_only_a_locksmith_books_use(bench: Bench) -> None:
    with pytest.raises(PermissionDenied):
        services.book_use(
            actor=bench.cast.desk, site=bench.site, format=bench.format, pins={("top", 4): 1}, order="x"
        )


def test_the_number_of_queries_does_not_grow_with_the_pins(bench: Bench) -> None:
    bench.stock()

    def queries(pins: dict[tuple[str, int], int]) -> int:
        with CaptureQueriesContext(connection) as seen:
            bench.use(pins)
        return len(seen)

    assert queries({("top", 4): 1}) == queries({("master", size): 2 for size in range(2, 20)})


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_counts_are_the_sums_of_their_movements_whatever_happens(bench: Bench, seed: int) -> None:
    """A walk with a book of its own: the pins that really lie in the bin, seen only when they are counted."""
    bench.open_kit()
    chance, on_record = random.Random(seed), None
    for _ in range(STEPS):
        act, number = chance.choice(["count", "use", "bought", "returned"]), chance.randint(1, 9)
        if act == "count":
            services.count_pins(actor=bench.smith, bin=bench.bin(), count=number)
            on_record = number
        elif act == "use":
            bench.use({("master", 4): number})
            on_record = None if on_record is None else max(0, on_record - number)
        else:
            services.move_pins(actor=bench.smith, bin=bench.bin(), reason=act, number=number)
            on_record = None if on_record is None else on_record + number
        assert bench.bin().count == on_record
    assert bench.bin().moves.aggregate(sum=Sum("change"))["sum"] == on_record


@pytest.mark.django_db(transaction=True)
def test_two_jobs_at_once_both_leave_their_mark(bench: Bench) -> None:
    def job(nth: int) -> None:
        try:
            bench.use({("master", 4): 1, ("top", 4): 1}, order=f"Order {nth}")
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(job, range(8)))
    assert PinBin.objects.filter(site=bench.site).count() == 64
    assert PinMove.objects.filter(bin=bench.bin(), reason="used").count() == 8
    bench_bin = services.count_pins(actor=bench.smith, bin=bench.bin(), count=100)
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(job, range(8)))
    bench_bin.refresh_from_db()
    assert bench_bin.count == 92
