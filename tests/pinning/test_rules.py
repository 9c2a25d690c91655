"""Counts under rules against listing every bitting, and against what others have counted."""

from collections import Counter
from functools import cache
from itertools import groupby, pairwise, product
from random import Random
from typing import Any

import pytest

from pinning import Refused, Rules, count_by_rules
from tests.pinning.published import figures

COUNTS = figures("counts")
RULED = [*COUNTS["ruled"], *({"rules": {"macs": case["macs"]}, **case} for case in COUNTS["legal"])]
CASES_EACH = 5_000


@cache
def listed(positions: int, depths: int) -> Counter[tuple[int, int, int, int, int]]:
    """Of all bittings: greatest step, most equal cuts, longest run, different depths, span."""
    return Counter(map(_measured, product(range(depths), repeat=positions)))


def _measured(cuts: tuple[int, ...]) -> tuple[int, int, int, int, int]:
    step = max((abs(a - b) for a, b in pairwise(cuts)), default=0)
    equal = max(cuts.count(cut) for cut in cuts)
    run = max(len(list(same)) for _, same in groupby(cuts))
    return step, equal, run, len(set(cuts)), max(cuts) - min(cuts)


def brute(positions: int, depths: int, rules: Rules) -> int:
    least = (rules.min_distinct, rules.min_span)
    most = (rules.macs, rules.max_equal, rules.max_run)
    return sum(
        number
        for found, number in listed(positions, depths).items()
        if all(limit is None or value <= limit for value, limit in zip(found[:3], most, strict=True))
        and all(value >= limit for value, limit in zip(found[3:], least, strict=True))
    )


def random_rules(rng: Random) -> Rules:
    macs, equal, run = (rng.choice([None, rng.randint(low, 4)]) for low in (0, 1, 1))
    return Rules(macs, equal, run, rng.choice([0, 1, 1, 2, 3, 4]), rng.choice([0, 0, 1, 2, 3, 5]))


@pytest.mark.parametrize("seed", range(8))
def test_the_count_equals_listing_every_bitting(seed: int) -> None:
    """40,000 random cases; those that come again are counted again."""
    rng = Random(seed)
    for _ in range(CASES_EACH):
        positions, depths, rules = rng.randint(1, 5), rng.randint(1, 5), random_rules(rng)
        assert count_by_rules(positions, range(depths), rules) == brute(positions, depths, rules)


def test_depths_need_not_lie_side_by_side() -> None:
    depths = (1, 2, 5, 9)
    listed = product(depths, repeat=4)
    kept = sum(_measured(cuts)[0] <= 4 and _measured(cuts)[4] >= 3 for cuts in listed)
    assert count_by_rules(4, depths, Rules(macs=4, min_span=3)) == kept > 0


@pytest.mark.parametrize("case", RULED, ids=lambda case: str(case["count"]))
def test_the_count_is_what_others_have_counted(case: dict[str, Any]) -> None:
    rules = Rules(**case["rules"])
    assert count_by_rules(case["positions"], range(case["depths"]), rules) == case["count"]


def test_without_an_adjacent_cut_limit_different_cuts_are_the_falling_factorial() -> None:
    """Every cut another: 64 x 63 x 62 x ... for 16 positions."""
    expected = 1
    for factor in range(49, 65):
        expected *= factor
    assert count_by_rules(16, range(64), Rules(max_equal=1)) == expected


def test_the_bound_is_on_steps_and_not_on_the_number_counted() -> None:
    assert count_by_rules(6, range(10), Rules(macs=7, max_equal=3), 50_000) == 742_680
    with pytest.raises(Refused, match="more than 1,000 steps") as refused:
        count_by_rules(6, range(10), Rules(macs=7, max_equal=3), 1_000)
    assert [reason.code for reason in refused.value.refusals] == ["too_large"]


def test_no_depth_can_be_used_so_seldom() -> None:
    assert count_by_rules(64, range(10), Rules(max_equal=6)) == 0
