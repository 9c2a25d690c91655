"""What to buy: bins that are low, or will be when the open orders are done."""

from collections import Counter

import pytest

from keyctl.places.models import Site
from keyctl.stock import demand, services
from keyctl.stock.demand import Demand
from keyctl.stock.families import family_id
from keyctl.stock.selectors import Need, needs_at, reorder_list, shelves_at
from tests.keyctl.stock.bench import Bench


@pytest.fixture
def asked(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Counter[tuple[str, int]]:
    """Pins of the A2 kit that some work at the north site asks for; the test says which."""
    wanted: Counter[tuple[str, int]] = Counter()

    def source(site: Site) -> Demand:
        family = family_id(bench.format)
        pins = {(family, *pin): number for pin, number in wanted.items()}
        return Demand(Counter(pins), ("One core cannot be pinned.",)) if site == bench.site else Demand()

    monkeypatch.setattr(demand, "_sources", [source])
    return wanted


def bought(bench: Bench) -> dict[tuple[str, int], int]:
    return {(need.role, need.size): need.to_buy for need in reorder_list(bench.site).lines}


def test_full_bins_ask_for_nothing(bench: Bench) -> None:
    bench.stock(each=50, low_at=20)
    assert bought(bench) == {}


def test_a_low_bin_is_bought_above_its_mark(bench: Bench) -> None:
    bench.stock(each=50, low_at=20)
    services.count_pins(actor=bench.smith, bin=bench.bin(), count=20)
    assert bought(bench) == {("master", 4): 1}
    assert [shelf.low for shelf in shelves_at(bench.site)] == [[bench.bin()]]


@pytest.mark.parametrize(("needed", "to_buy"), [(29, None), (30, 1), (50, 21), (60, 31)])
def test_open_work_counts_as_if_it_were_done(
    bench: Bench, asked: Counter[tuple[str, int]], needed: int, to_buy: int | None
) -> None:
    """From 50 with the mark at 20: 29 leave 21, which is above it; 30 leave 20, which is low."""
    bench.stock(each=50, low_at=20)
    asked["master", 4] = needed
    assert bought(bench).get(("master", 4)) == to_buy


def test_an_uncounted_bin_is_to_be_counted_not_bought(bench: Bench, asked: Counter[tuple[str, int]]) -> None:
    bench.open_kit(low_at=20)
    asked["master", 4] = 3
    found = reorder_list(bench.site)
    assert found.lines == []
    assert [(need.bin, need.needed) for need in found.to_count] == [(bench.bin(), 3)]


def test_pins_without_any_bin_are_to_be_counted_too(bench: Bench, asked: Counter[tuple[str, int]]) -> None:
    asked["master", 4] = 3
    assert [need.name for need in reorder_list(bench.site).to_count] == ["Master pins, size 4"]


def test_what_could_not_be_foretold_is_passed_on(bench: Bench, asked: Counter[tuple[str, int]]) -> None:
    assert reorder_list(bench.site).untold == ("One core cannot be pinned.",)


def test_another_sites_work_takes_nothing_from_these_bins(
    bench: Bench, asked: Counter[tuple[str, int]]
) -> None:
    asked["master", 4] = 500
    assert reorder_list(bench.cast.south).to_count == []


def test_needs_stand_in_the_order_of_a_column_of_pins(bench: Bench) -> None:
    family = family_id(bench.format)
    pins = [("top", 9), ("control", 4), ("master", 12), ("master", 3), ("bottom", 5)]
    needs = needs_at(bench.site, Demand(Counter({(family, *pin): 1 for pin in pins})))
    assert [(need.role, need.size) for need in needs] == [
        ("bottom", 5),
        ("master", 3),
        ("master", 12),
        ("control", 4),
        ("top", 9),
    ]


def test_a_bin_in_short_supply_says_by_how_much(bench: Bench) -> None:
    bench.stock(each=4)
    found = needs_at(bench.site, Demand(Counter({(family_id(bench.format), "master", 4): 7})))
    assert [(need.held, need.short) for need in found] == [(4, 3)]
    assert isinstance(found[0], Need)
