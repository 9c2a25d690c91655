"""The package against the slice-by-slice oracle, on 1,100,000 seeded cases."""

from random import Random
from typing import Any

import pytest

from pinning import (
    EMPTY,
    Bitting,
    CoreFormat,
    Pinning,
    Refused,
    bitting_of,
    pin,
    to_mapping,
    turn,
)
from tests.pinning import cases, oracle


def stacks_of(pinning: Pinning) -> list[dict[str, Any]]:
    return [
        {
            "position": stack.position,
            "bottom": stack.bottom,
            "masters": list(stack.masters),
            "control": stack.control,
            "top": stack.top,
        }
        for stack in pinning.stacks
    ]


def turned(pinning: Pinning, cuts: list[int]) -> tuple[bool, bool, list[int]]:
    found = turn(pinning, bitting_of(pinning.format, cuts))
    return found.operates, found.withdraws, list(found.binds)


def cuts_of(format: CoreFormat, text: str) -> list[int]:
    return [format.depth_values[format.depths.index(symbol)] for symbol in text]


def key_of(format: CoreFormat, text: str) -> oracle.Key:
    return [None if symbol == EMPTY else cuts_of(format, symbol)[0] for symbol in text]


@pytest.mark.parametrize("seed", range(10))
def test_any_pins_turn_as_the_mechanics_say(seed: int) -> None:
    """50,000 pairs of a random column of pins and a random key."""
    rng = Random(seed)
    for _ in range(500):
        format = cases.random_format(rng)
        core, mapping = cases.random_core(rng, format), to_mapping(format)
        for _ in range(10):
            cuts = cuts_of(format, cases.random_text(rng, format))
            assert turned(core, cuts) == oracle.what_turns(mapping, stacks_of(core), cuts)


@pytest.mark.parametrize("seed", range(10))
def test_keys_get_a_core_exactly_if_the_rules_allow_one(seed: int) -> None:
    """50,000 sets of keys: refused or pinned as the oracle finds, and every key does its work."""
    rng, pinned = Random(1000 + seed), 0
    for _ in range(250):
        format = cases.random_format(rng)
        mapping = to_mapping(format)
        for _ in range(20):
            keys, control = cases.random_keys(rng, format)
            if is_pinned(rng, format, mapping, keys, control):
                pinned += 1
    assert pinned > 500


def is_pinned(
    rng: Random, format: CoreFormat, mapping: dict[str, Any], keys: list[str], control: str | None
) -> bool:
    numbers = [key_of(format, key) for key in keys]
    control_numbers = None if control is None else key_of(format, control)
    try:
        core = pin(format, keys, control)
    except Refused:
        assert not oracle.stacks_possible(mapping, numbers, control_numbers)
        return False
    assert oracle.stacks_possible(mapping, numbers, control_numbers)
    cut = [cuts_of(format, cases.completed(rng, format, key)) for key in (*keys, control or "")]
    does = [oracle.what_turns(mapping, stacks_of(core), key)[:2] for key in cut if key]
    assert all(operates and not withdraws for operates, withdraws in does[: len(keys)])
    assert all(withdraws for _, withdraws in does[len(keys) :])
    return True


@pytest.mark.parametrize("seed", range(40))
def test_accepts_counts_the_keys_that_turn_when_all_are_tried(seed: int) -> None:
    rng = Random(2000 + seed)
    core = cases.random_core(rng, cases.random_format(rng))
    mapping, stacks = to_mapping(core.format), stacks_of(core)
    turning = [key for key in oracle.every_key(mapping) if oracle.what_turns(mapping, stacks, key)[0]]
    assert core.accepts == len(turning)


@pytest.mark.parametrize("seed", range(40))
def test_every_key_of_a_format_is_told_as_the_mechanics_say(seed: int) -> None:
    rng = Random(3000 + seed)
    core = cases.random_core(rng, cases.random_format(rng))
    mapping, stacks = to_mapping(core.format), stacks_of(core)
    for cuts in oracle.every_key(mapping):
        assert turned(core, cuts) == oracle.what_turns(mapping, stacks, cuts)


def test_the_oracle_itself_can_say_no() -> None:
    """A column of 3 + 2 on a key cut 4: the master pin crosses the operating line."""
    stack = {"position": 1, "bottom": 3, "masters": [2], "control": None, "top": 4}
    assert [oracle.is_clear(stack, cut, 0) for cut in (3, 4, 5)] == [True, False, True]


@pytest.mark.parametrize("seed", range(10))
def test_a_million_keys_turn_as_the_mechanics_say(seed: int) -> None:
    """A tenth of 1,000,000 cases per seed: 500 formats, 20 random cores each, 10 random keys in each core."""
    rng = Random(4000 + seed)
    for _ in range(500):
        format = cases.random_format(rng)
        mapping = to_mapping(format)
        for _ in range(20):
            core = cases.random_core(rng, format)
            laid_out = oracle.Core(mapping, stacks_of(core))
            for _ in range(10):
                cuts = rng.choices(format.depth_values, k=format.positions)
                blank = rng.choice(["operating", "control"]) if laid_out.has_tip else "operating"
                found = turn(core, Bitting(tuple(cuts), ""), blank)
                expected = laid_out.what_turns(cuts, blank == "control")
                assert (found.operates, found.withdraws, list(found.binds)) == expected
