"""Near misses against recutting every key in every position, on the slice-by-slice oracle."""

import os
from itertools import product
from random import Random

import pytest

from pinning import Bitting, CoreFormat, Pinning, PinningError, load, parse_any_bitting, pin, to_mapping
from pinning.nearness import near_misses, one_depth
from tests.pinning import cases, oracle
from tests.pinning.test_against_oracle import stacks_of

# PINNING_CASES=12500 makes it 100,000 estates.
CASES_EACH = int(os.environ.get("PINNING_CASES", "300"))
Found = set[tuple[int, int, str, tuple[tuple[int, int], ...]]]


def tried(cores: list[Pinning], keys: list[Bitting], reach: int, worn: int) -> Found:
    """Every key with each cut as it is or up to `reach` other, position by position."""
    found: Found = set()
    for (core_number, core), (key_number, key) in product(enumerate(cores), enumerate(keys)):
        mapping, stacks = to_mapping(core.format), stacks_of(core)
        sleeve = oracle.sleeve_of(mapping)
        for line in ("operating", "control") if sleeve else ("operating",):
            apart = [
                shifts_of(mapping, stack, cut, line, reach)
                for stack, cut in zip(stacks, key.cuts, strict=True)
            ]
            off = [(place, shifts) for place, shifts in enumerate(apart, 1) if 0 not in shifts]
            if len(off) == 1 and off[0][1]:
                nearest = min(off[0][1], key=lambda shift: (abs(shift), shift < 0))
                found.add((key_number, core_number, line, ((off[0][0], nearest),)))
            elif 1 < len(off) <= worn and all(any(shift > 0 for shift in shifts) for _, shifts in off):
                deeper = tuple((place, min(s for s in shifts if s > 0)) for place, shifts in off)
                found.add((key_number, core_number, line, deeper))
    return found


def shifts_of(mapping: oracle.Json, stack: oracle.Json, cut: int, line: str, reach: int) -> list[int]:
    sleeve = oracle.sleeve_of(mapping)
    covered = line == "control" and stack["position"] in sleeve
    lift = mapping["control"]["addition"] if covered else 0
    return [shift for shift in range(-reach, reach + 1) if is_clear(stack, cut + shift, lift)]


def is_clear(stack: oracle.Json, cut: int, lift: int) -> bool:
    """A key cannot be shallower than the break under the lowest pin, nor the foot hang below it."""
    return cut + lift >= 0 and oracle.is_clear(stack, cut, lift)


@pytest.mark.parametrize("seed", range(8))
def test_near_misses_equal_recutting_every_key(seed: int) -> None:
    rng = Random(seed)
    for _ in range(CASES_EACH):
        format = cases.random_format(rng)
        cores = [cases.random_core(rng, format) for _ in range(rng.randint(0, 3))]
        keys = [parse_any_bitting(format, cases.random_text(rng, format)) for _ in range(rng.randint(0, 6))]
        reach, worn = rng.randint(1, 2), rng.randint(1, 3)
        misses = list(near_misses(dict(enumerate(cores)), dict(enumerate(keys)), reach=reach, worn=worn))
        assert len({(miss.key, miss.core, miss.line) for miss in misses}) == len(misses)
        listed = {(miss.key, miss.core, miss.line, miss.differences) for miss in misses}
        assert listed == tried(cores, keys, reach, worn)


def small(text: str) -> tuple[CoreFormat, dict[str, Bitting]]:
    a4 = load("small-a4-6")
    return a4, {part: parse_any_bitting(a4, part) for part in text.split()}


def test_a_key_that_turns_is_no_near_miss() -> None:
    a4, keys = small("111111 111113")
    assert list(near_misses({"C": pin(a4, ["111111", "111113"], "333333")}, keys)) == []


def test_wear_makes_cuts_deeper_never_shallower() -> None:
    a4, keys = small("111110 111112")
    misses = near_misses({"C": pin(a4, ["111111"], "333333")}, keys)
    assert {miss.key: (miss.differences, miss.by_wear) for miss in misses} == {
        "111110": (((6, 1),), True),
        "111112": (((6, -1),), False),
    }


def test_two_step_keys_of_one_series_are_never_one_depth_apart() -> None:
    a2 = load("small-a2-6")
    keys = {f"{a}{b}2222": parse_any_bitting(a2, f"{a}{b}2222") for a in "02468" for b in "02468"}
    misses = near_misses({"C": pin(a2, ["242222", "222222"], "555555")}, keys)
    assert [miss for miss in misses if miss.line == "operating"] == []


def test_one_depth_is_the_least_difference_of_two() -> None:
    assert [one_depth(load(name)) for name in ("small-a2-6", "small-a4-6")] == [1, 1]


def test_it_refuses_keys_of_another_length() -> None:
    _, keys = small("111111")
    with pytest.raises(PinningError, match="6 cuts and a core 7"):
        list(near_misses({"C": pin(load("small-a4-7"), ["1111111"], "3333333")}, keys))
