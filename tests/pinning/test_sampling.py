"""The estimate of a union against its exact count."""

from random import Random

import pytest

from pinning import Rules, count_union
from pinning.sampling import estimate_union
from tests.pinning.test_incidental import Box, random_boxes, random_rules, unordered


@pytest.mark.parametrize("seed", range(3))
def test_the_interval_holds_the_exact_count_as_often_as_it_says(seed: int) -> None:
    """200 random unions at 90 %: a sound interval misses 20 of them on the average, and rarely 35."""
    rng, missed = Random(seed), 0
    for _ in range(200):
        boxes, rules = random_boxes(rng), random_rules(rng)
        found = estimate_union(boxes, rules, rng, samples=200, confidence=0.9)
        missed += not found.low <= count_union(boxes, rules) <= found.high
    assert missed < 35


def test_more_samples_narrow_the_interval_around_the_count() -> None:
    boxes, rules = unordered(7, 2_000), Rules(macs=7)
    exact = count_union(boxes, rules)
    widths = []
    for samples in (500, 8_000):
        found = estimate_union(boxes, rules, Random(1), samples=samples)
        assert found.low <= exact <= found.high
        widths.append(found.high - found.low)
    assert widths[1] < widths[0] / 3


def test_it_estimates_what_no_table_holds() -> None:
    """Twelve positions: boxes that share nothing are as many bittings as they hold together."""
    boxes: list[Box] = [tuple((2 * n, 2 * n + 1) for _ in range(12)) for n in range(5)]
    found = estimate_union(boxes, Rules(), Random(1))
    assert found.low <= 5 * 2**12 <= found.high
    assert found.value == 5 * 2**12


def test_no_box_holds_nothing() -> None:
    assert estimate_union([], Rules(), Random(1)).high == 0
    assert estimate_union([((1,), ())], Rules(), Random(1)).high == 0
