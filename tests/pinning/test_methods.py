"""Each method of progression, under limits and rules, against choosing among all combinations."""

import json
import os
from functools import cache
from itertools import groupby, pairwise, product
from random import Random
from typing import Any

import pytest

from pinning import (
    METHODS,
    CoreFormat,
    Progression,
    Refused,
    Rules,
    by_method,
    count_in_columns,
    key_bitting_array,
    load,
    nth_in_columns,
    parse_bitting,
    parse_format,
    progress,
    to_mapping,
)
from pinning.commands import answer

Cuts = tuple[int, ...]
# PINNING_CASES=12500 makes it 100,000 of each kind.
CASES_EACH = int(os.environ.get("PINNING_CASES", "3000"))
A2 = load("small-a2-6")


@cache
def facts(cuts: Cuts) -> tuple[int, int, int, int, int]:
    """Greatest step, most equal cuts, longest run, different depths, span: measured on the bitting itself."""
    step = max((abs(a - b) for a, b in pairwise(cuts)), default=0)
    run = max(len(list(same)) for _, same in groupby(cuts))
    return step, max(map(cuts.count, cuts)), run, len(set(cuts)), max(cuts) - min(cuts)


def keeps(cuts: Cuts, rules: Rules) -> bool:
    step, equal, run, distinct, span = facts(cuts)
    most = ((step, rules.macs), (equal, rules.max_equal), (run, rules.max_run))
    return (
        all(limit is None or value <= limit for value, limit in most)
        and distinct >= rules.min_distinct
        and span >= rules.min_span
    )


def random_rules(rng: Random, macs: int | None) -> Rules:
    equal, run = (rng.choice([None, None, rng.randint(1, 3)]) for _ in range(2))
    return Rules(macs, equal, run, rng.choice([0, 1, 1, 2, 3]), rng.choice([0, 0, 0, 1, 2, 3]))


@pytest.mark.parametrize("seed", range(8))
def test_the_count_in_columns_equals_listing(seed: int) -> None:
    """100,000 random cases: every position has cuts of its own."""
    rng = Random(seed)
    for _ in range(CASES_EACH):
        columns = [rng.sample(range(5), rng.randint(0, 3)) for _ in range(rng.randint(1, 4))]
        rules = random_rules(rng, rng.choice([None, 0, 1, 2, 3]))
        expected = sum(keeps(cuts, rules) for cuts in product(*columns))
        assert count_in_columns(columns, rules) == expected


@pytest.mark.parametrize("seed", range(4))
def test_a_weight_counts_a_cut_so_often(seed: int) -> None:
    rng = Random(seed)
    for _ in range(2_000):
        columns = [rng.sample(range(4), rng.randint(1, 3)) for _ in range(rng.randint(1, 4))]
        weights = [{cut: rng.randint(0, 3) for cut in column} for column in columns]
        rules = random_rules(rng, rng.choice([None, 1, 2]))
        expected = 0
        for cuts in product(*columns):
            factor = int(keeps(cuts, rules))
            for cut, weight in zip(cuts, weights, strict=True):
                factor *= weight[cut]
            expected += factor
        assert count_in_columns(columns, rules, weights=weights) == expected


@cache
def small_formats() -> list[CoreFormat]:
    wide = to_mapping(A2) | {"depths": "01234", "depth_values": [0, 1, 2, 3, 4], "control": None, "step": 1}
    wide |= {"total": {"plain": 20}, "drivers": None}
    return [
        parse_format(wide | {"positions": positions, "macs": macs})
        for positions in (2, 3, 4)
        for macs in (None, 1, 2, 3)
    ]


def random_base(rng: Random) -> Progression:
    format = rng.choice(small_formats())
    while True:
        text = "".join(rng.choice(format.depths) for _ in range(format.positions))
        if format.macs is None or facts(tuple(map(int, text)))[0] <= format.macs:
            break
    master = parse_bitting(format, text)
    array = [rng.sample(full, rng.randint(0, 2)) for full in key_bitting_array(format, master)]
    sequence = rng.sample(range(1, format.positions + 1), rng.randint(1, format.positions))
    return progress(format, master, array, sequence, random_rules(rng, None))


def chosen(base: Progression, method: str, constants: int) -> list[Cuts]:
    """Out of all keys of the master's cuts and the array's, those that the method means."""
    moved = set(base.sequence)
    columns = [
        [own, *base.array[place]] if place + 1 in moved else [own] for place, own in enumerate(base.held.cuts)
    ]
    wanted = {"total": {0}, "rotating": {constants}, "partial": set(range(len(moved)))}[method]
    return [
        cuts
        for cuts in product(*columns)
        if sum(cuts[place - 1] == base.held.cuts[place - 1] for place in moved) in wanted
    ]


@pytest.mark.parametrize("seed", range(8))
def test_a_method_gives_the_keys_that_it_means(seed: int) -> None:
    """100,000 random cases: all keys, those that keep to the rules, their number and one of them by rank."""
    rng = Random(seed)
    for _ in range(CASES_EACH):
        base, method = random_base(rng), rng.choice(METHODS)
        constants = rng.randint(0, len(base.sequence))
        keys = by_method(base, method, constants)
        expected = chosen(base, method, constants)
        rules = Rules(base.format.macs, *(getattr(base.rules, name) for name in Rules.__slots__[1:]))
        usable = [key.cuts for key in keys.usable()]
        assert keys.total == len(expected)
        assert sorted(usable) == sorted(cuts for cuts in expected if keeps(cuts, rules))
        assert keys.usable_total == len(usable)
        if usable:
            rank = rng.randrange(len(usable))
            assert keys.nth_usable(rank).cuts == usable[rank]


@pytest.mark.parametrize("method", METHODS)
def test_the_usable_keys_come_in_the_order_of_their_indexes(method: str) -> None:
    base = progress(A2, parse_bitting(A2, "143254"), sequence=[6, 1, 4], rules=Rules(max_equal=2))
    keys = by_method(base, method, 1)
    listed = [key.cuts for key in keys.between(0, keys.total)]
    assert [key.cuts for key in keys.usable()] == [cuts for cuts in listed if keeps(cuts, base.limits)]
    assert [keys[index].cuts for index in range(keys.total)] == listed


@pytest.mark.parametrize("method", METHODS)
def test_no_key_stands_past_the_last(method: str) -> None:
    base = progress(load("fixed-6"), parse_bitting(load("fixed-6"), "143254"), sequence=[6, 1, 4])
    keys = by_method(base, method, 1)
    for index in (-1, keys.usable_total):
        with pytest.raises(IndexError):
            keys.nth_usable(index)


def test_a_key_is_found_by_its_rank_without_walking_to_it() -> None:
    """The last of some ten million under a limit and a rule: its ranks are counted, not walked."""
    format = load("fixed-6")
    wide = parse_format(to_mapping(format) | {"step": 1, "positions": 7, "macs": 5})
    base = progress(wide, parse_bitting(wide, "1432545"), rules=Rules(max_run=2))
    total = base.usable_total
    assert 1_000_000 < total < base.total
    found = [base.nth_usable(rank) for rank in (0, total // 2, total - 1)]
    assert [key.cuts[0] for key in found] == sorted(key.cuts[0] for key in found)
    assert all(keeps(key.cuts, base.limits) for key in found)


def test_partial_progression_holds_total_progression_and_every_rotation() -> None:
    """(b + 1)^P - 1 is the sum of C(P, m) x b^(P - m) over m from 0 to P - 1 (the binomial theorem)."""
    base = progress(A2, parse_bitting(A2, "143254"))
    rotations = [by_method(base, "rotating", held).total for held in range(6)]
    assert by_method(base, "partial", 0).total == sum(rotations) == 5**6 - 1


@pytest.mark.parametrize("method", METHODS)
def test_the_form_knows_the_rules(method: str) -> None:
    asked = {"format": "small-a2-6", "master": "143254", "method": method, "constants": 2}
    asked |= {"sequence": [6, 5, 4], "rules": {"max_equal": 1, "min_span": 5}, "size": 10_000}
    status, found = answer("progress", json.dumps(asked).encode())
    assert status == 0
    base = progress(A2, parse_bitting(A2, "143254"), sequence=[6, 5, 4])
    expected = [c for c in chosen(base, method, 2) if keeps(c, Rules(max_equal=1, min_span=5))]
    assert sorted(found["bittings"]) == sorted("".join(map(str, cuts)) for cuts in expected)
    assert found["usable"] == len(expected) < found["total"]


def test_ranks_follow_the_order_asked_for() -> None:
    columns = [(3, 1), (0,), (2, 4)]
    ranked = [nth_in_columns(columns, [2, 0], Rules(), index) for index in range(4)]
    assert ranked == [(3, 0, 2), (1, 0, 2), (3, 0, 4), (1, 0, 4)]


def test_rules_that_make_too_many_states_are_refused() -> None:
    columns: list[Any] = [range(24)] * 24
    with pytest.raises(Refused, match="more than 2,000,000 steps"):
        count_in_columns(columns, Rules(macs=7, max_equal=3))
