"""Incidental keys against trying every bitting in every core."""

import os
from itertools import combinations, pairwise, product
from random import Random

import numpy as np
import pytest

from pinning import Refused, Rules, count_union, incidental_total, load, parse_any_bitting, pin, to_mapping
from pinning.incidental import count_states, withdrawing_total
from pinning.painting import Painting
from tests.pinning import cases, oracle
from tests.pinning.published import figures
from tests.pinning.test_against_oracle import stacks_of

Box = tuple[tuple[int, ...], ...]
# PINNING_CASES=12500 makes it 100,000 cases of each kind.
CASES_EACH = int(os.environ.get("PINNING_CASES", "1500"))


def random_boxes(rng: Random) -> list[Box]:
    positions, depths = rng.randint(1, 4), rng.randint(1, 4)
    return [
        tuple(tuple(d for d in range(depths) if rng.random() < 0.5) for _ in range(positions))
        for _ in range(rng.randint(0, 6))
    ]


def random_rules(rng: Random) -> Rules:
    return Rules(
        macs=rng.choice([None, 0, 1, 2]),
        max_equal=rng.choice([None, None, 1, 2]),
        max_run=rng.choice([None, None, 1, 2]),
        min_distinct=rng.choice([0, 1, 1, 2, 3]),
        min_span=rng.choice([0, 0, 1, 2]),
    )


def is_allowed(cuts: tuple[int, ...], rules: Rules) -> bool:
    """Rule by rule, as it is written."""
    longest = run = 1
    for a, b in pairwise(cuts):
        run = run + 1 if a == b else 1
        longest = max(longest, run)
    return (
        all(rules.macs is None or abs(a - b) <= rules.macs for a, b in pairwise(cuts))
        and (rules.max_run is None or longest <= rules.max_run)
        and (rules.max_equal is None or all(cuts.count(cut) <= rules.max_equal for cut in cuts))
        and len(set(cuts)) >= rules.min_distinct
        and max(cuts) - min(cuts) >= rules.min_span
    )


def listed(boxes: list[Box]) -> set[tuple[int, ...]]:
    return {cuts for box in boxes for cuts in product(*box)}


@pytest.mark.parametrize("seed", range(8))
def test_the_union_equals_a_set_of_all_its_bittings(seed: int) -> None:
    """By either way of counting, under rules of every kind."""
    rng = Random(seed)
    for _ in range(CASES_EACH):
        boxes, rules = random_boxes(rng), random_rules(rng)
        expected = sum(is_allowed(cuts, rules) for cuts in listed(boxes))
        filled = list({box for box in boxes if all(box)})
        assert count_union(boxes, rules) == expected
        assert count_states(filled, rules) == expected


@pytest.mark.parametrize("seed", range(8))
def test_incidental_keys_equal_trying_every_bitting(seed: int) -> None:
    """Random estates, turned by the slice-by-slice oracle; cores with any pins, keys of any kind."""
    rng = Random(seed)
    for _ in range(CASES_EACH // 6):
        format, rules = cases.random_format(rng), random_rules(rng)
        cores = [cases.random_core(rng, format) for _ in range(rng.randint(0, 4))]
        keys = [parse_any_bitting(format, cases.random_text(rng, format)) for _ in range(rng.randint(0, 6))]
        mapping, known = to_mapping(format), {key.cuts for key in keys}
        tried = [oracle.Core(mapping, stacks_of(core)) for core in cores]
        effects = [
            [core.what_turns(cuts) for core in tried]
            for cuts in product(format.depth_values, repeat=format.positions)
            if cuts not in known and is_allowed(cuts, rules) and is_allowed(cuts, Rules(macs=format.macs))
        ]
        assert incidental_total(cores, keys, rules=rules) == sum(
            any(turns for turns, _, _ in each) for each in effects
        )
        assert withdrawing_total(cores, keys, rules=rules) == sum(
            any(withdraws for _, withdraws, _ in each) for each in effects
        )


def test_two_keys_on_six_positions_have_sixty_two_incidental_ones() -> None:
    case = figures("counts")["minimum_pinning"]
    format = load(case["format"])
    keys = [parse_any_bitting(format, text) for text in case["operating"]]
    assert incidental_total([pin(format, case["operating"], None)], keys) == case["unplanned"]


def unordered(positions: int, number: int, depths: int = 10) -> list[Box]:
    rng = Random(1)
    return [tuple(tuple(rng.sample(range(depths), 3)) for _ in range(positions)) for _ in range(number)]


def whole_table(boxes: list[Box], macs: int, depths: int = 10) -> int:
    """NumPy's own table of all bittings, one byte each."""
    table = np.zeros((depths,) * len(boxes[0]), bool)
    for box in boxes:
        table[np.ix_(*map(list, box))] = True
    for place in range(table.ndim - 1):
        grid = np.abs(np.subtract.outer(np.arange(depths), np.arange(depths))) <= macs
        shape = [1] * table.ndim
        shape[place : place + 2] = [depths, depths]
        table &= grid.reshape(shape)
    return int(table.sum())


@pytest.mark.parametrize(("positions", "number", "macs"), [(6, 400, 7), (7, 3_000, 7), (7, 200, 4)])
def test_the_union_equals_a_whole_table(positions: int, number: int, macs: int) -> None:
    """Seven positions: parts by first cut."""
    boxes = unordered(positions, number)
    assert count_union(boxes, Rules(macs=macs)) == whole_table(boxes, macs)


def test_wide_and_narrow_columns_paint_together() -> None:
    """Boxes of every width: more strokes than one block holds, and words of more than 8 bits."""
    rng = Random(3)
    boxes = [
        tuple(tuple(sorted(rng.sample(range(10), rng.randint(1, 6)))) for _ in range(6)) for _ in range(1500)
    ]
    assert Painting(list(set(boxes)), Rules(macs=6)).count() == whole_table(boxes, 6)


def test_an_estate_without_order_is_painted_where_states_are_too_many() -> None:
    boxes = unordered(5, 300)
    with pytest.raises(Refused):
        count_states(list(set(boxes)), Rules(macs=7), most_steps=1)
    assert count_union(boxes, Rules(macs=7), most_steps=1) == whole_table(boxes, 7)


def legal_in(box: list[set[int]], macs: int) -> int:
    """A product of matrices: from each cut of a column to the cuts of the next near enough."""
    depths = np.arange(10)
    near = (np.abs(np.subtract.outer(depths, depths)) <= macs).astype(np.int64)
    ways = np.isin(depths, list(box[0])).astype(np.int64)
    for column in box[1:]:
        ways = (ways @ near) * np.isin(depths, list(column))
    return int(ways.sum())


@pytest.mark.parametrize("seed", range(3))
def test_twelve_positions_equal_inclusion_and_exclusion(seed: int) -> None:
    """No table fits 10^12 bittings; ten boxes have 1,023 intersections."""
    rng = Random(seed)
    boxes = [tuple(tuple(rng.sample(range(10), rng.randint(2, 8))) for _ in range(12)) for _ in range(10)]
    expected = sum(
        (-1) ** (size + 1) * legal_in([set.intersection(*map(set, c)) for c in zip(*chosen, strict=True)], 7)
        for size in range(1, 11)
        for chosen in combinations(boxes, size)
    )
    assert count_union(boxes, Rules(macs=7)) == expected


def test_many_positions_are_counted_where_no_table_would_fit() -> None:
    """One box of two cuts in 16 positions, and another that shares half of them."""
    first, second = ((0, 1),) * 16, ((1, 2),) + ((0, 1),) * 15
    assert count_union([first, second]) == 2**16 + 2**15


def test_it_refuses_what_would_take_too_long() -> None:
    with pytest.raises(Refused) as refused:
        count_union(unordered(12, 3000), most_steps=200_000)
    assert [reason.code for reason in refused.value.refusals] == ["too_large"]


def test_ten_thousand_cores_without_order_are_counted() -> None:
    boxes = unordered(7, 10_000)
    assert count_union(boxes, Rules(macs=7)) == whole_table(boxes, 7)
