"""The package against the slice-by-slice oracle, on 100,000 seeded cases."""

from random import Random
from typing import Any

import pytest

from pinning import (
    CoreFormat,
    Pinning,
    Refused,
    bitting_of,
    decode,
    parse_any_bitting,
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


def similar_text(rng: Random, format: CoreFormat, text: str) -> str:
    """A key that has a chance to share a core with another: most cuts two apart, or the same."""
    places = [format.depths.index(symbol) for symbol in text]
    moved = [(place + rng.choice([0, 0, 1, 2])) % len(format.depths) for place in places]
    return "".join(format.depths[place] for place in moved)


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
            keys, control = random_keys(rng, format)
            if is_pinned(format, mapping, keys, control):
                pinned += 1
    assert pinned > 500


def random_keys(rng: Random, format: CoreFormat) -> tuple[list[str], str | None]:
    first = cases.random_text(rng, format)
    keys = [first, *(similar_text(rng, format, first) for _ in range(rng.randint(0, 2)))]
    if not format.sleeve:
        return keys, None
    loose = cases.random_text(rng, format)
    if rng.random() < 0.2:
        return keys, loose
    places = zip(range(1, format.positions + 1), first, loose, strict=True)
    return keys, "".join(free if place in format.sleeve else own for place, own, free in places)


def is_pinned(format: CoreFormat, mapping: dict[str, Any], keys: list[str], control: str | None) -> bool:
    numbers = [cuts_of(format, key) for key in keys]
    control_numbers = None if control is None else cuts_of(format, control)
    try:
        core = pin(format, keys, control)
    except Refused:
        assert not oracle.stacks_possible(mapping, numbers, control_numbers)
        return False
    assert oracle.stacks_possible(mapping, numbers, control_numbers)
    assert all(oracle.what_turns(mapping, stacks_of(core), key)[0] for key in numbers)
    assert control_numbers is None or oracle.what_turns(mapping, stacks_of(core), control_numbers)[1]
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


def test_decoding_a_pinned_core_gives_its_box() -> None:
    rng = Random(7)
    format = cases.random_format(rng)
    while not format.sleeve or format.step > 1 or format.drivers:
        format = cases.random_format(rng)
    keys, control = random_keys(rng, format)
    while not oracle.stacks_possible(
        to_mapping(format), [cuts_of(format, key) for key in keys], cuts_of(format, control or "")
    ):
        keys, control = random_keys(rng, format)
    columns = zip(*(parse_any_bitting(format, key).cuts for key in keys), strict=True)
    assert decode(pin(format, keys, control)).operating == tuple(tuple(sorted(set(c))) for c in columns)
