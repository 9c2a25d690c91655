"""Incidental keys against trying every bitting in every core."""

from itertools import pairwise, product
from random import Random
from time import perf_counter

import pytest

from pinning import Refused, count_union, incidental_total, load, parse_any_bitting, pin, to_mapping
from pinning.painting import count_painted
from tests.pinning import cases, oracle
from tests.pinning.published import figures
from tests.pinning.test_against_oracle import stacks_of

Box = tuple[tuple[int, ...], ...]
CASES_EACH = 4_500


def random_boxes(rng: Random) -> tuple[list[Box], int | None]:
    positions, depths = rng.randint(1, 4), rng.randint(1, 4)
    boxes = [
        tuple(tuple(d for d in range(depths) if rng.random() < 0.5) for _ in range(positions))
        for _ in range(rng.randint(0, 6))
    ]
    return boxes, rng.choice([None, 0, 1, 2])


def brute(boxes: list[Box], macs: int | None) -> int:
    listed = {cuts for box in boxes for cuts in product(*box)}
    return sum(macs is None or all(abs(a - b) <= macs for a, b in pairwise(cuts)) for cuts in listed)


@pytest.mark.parametrize("seed", range(8))
def test_the_union_equals_a_set_of_all_its_bittings(seed: int) -> None:
    """36,000 random cases, each by states and by painting."""
    rng = Random(seed)
    for _ in range(CASES_EACH):
        boxes, macs = random_boxes(rng)
        expected = brute(boxes, macs)
        assert count_union(boxes, macs) == expected
        assert count_painted(boxes, macs, range(4)) == expected


@pytest.mark.parametrize("seed", range(8))
def test_incidental_keys_equal_trying_every_bitting(seed: int) -> None:
    """4,000 random estates, turned by the slice-by-slice oracle; cores with any pins, keys of any kind."""
    rng = Random(seed)
    for _ in range(500):
        format = cases.random_format(rng)
        cores = [cases.random_core(rng, format) for _ in range(rng.randint(0, 4))]
        keys = [parse_any_bitting(format, cases.random_text(rng, format)) for _ in range(rng.randint(0, 6))]
        mapping, known = to_mapping(format), {key.cuts for key in keys}
        tried = [oracle.Core(mapping, stacks_of(core)) for core in cores]
        expected = sum(
            any(core.what_turns(cuts)[0] for core in tried)
            for cuts in product(format.depth_values, repeat=format.positions)
            if cuts not in known and (format.macs is None or not _too_far(cuts, format.macs))
        )
        assert incidental_total(cores, keys) == expected


def _too_far(cuts: tuple[int, ...], macs: int) -> bool:
    return any(abs(a - b) > macs for a, b in pairwise(cuts))


def test_two_keys_on_six_positions_have_sixty_two_incidental_ones() -> None:
    case = figures("counts")["minimum_pinning"]
    format = load(case["format"])
    keys = [parse_any_bitting(format, text) for text in case["operating"]]
    assert incidental_total([pin(format, case["operating"], None)], keys) == case["unplanned"]


def unordered(positions: int, number: int) -> list[Box]:
    rng = Random(1)
    return [tuple(tuple(rng.sample(range(10), 3)) for _ in range(positions)) for _ in range(number)]


def test_an_estate_without_order_is_painted_where_states_are_too_many() -> None:
    boxes = unordered(5, 300)
    assert count_union(boxes, 7, most_steps=1) == count_union(boxes, 7) == brute(boxes, 7)


def test_many_positions_are_counted_where_no_table_would_fit() -> None:
    """One box of two cuts in 16 positions, and another that shares half of them."""
    first, second = ((0, 1),) * 16, ((1, 2),) + ((0, 1),) * 15
    assert count_union([first, second], None) == 2**16 + 2**15


def test_it_refuses_what_would_take_too_long() -> None:
    started = perf_counter()
    with pytest.raises(Refused) as refused:
        count_union(unordered(12, 3000), None)
    assert [reason.code for reason in refused.value.refusals] == ["too_large"]
    assert perf_counter() - started < 30


def test_ten_thousand_cores_without_order_take_seconds() -> None:
    started = perf_counter()
    assert 6_000_000 < count_union(unordered(7, 10_000), 7) < 7_131_596
    assert perf_counter() - started < 30
