"""Where the pins stand on a key: against the second opinion in `oracle`, and values worked by hand.

The oracle lays each column out in slices of one increment and looks at the two that touch at a line; it knows
nothing of the module under test.
"""

from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pinning import (
    Bitting,
    LiftedChamber,
    Pinning,
    Refused,
    lift,
    load,
    load_all,
    parse_any_bitting,
    parse_stacks,
    to_mapping,
    turn,
)
from tests.pinning import cases, oracle
from tests.pinning.published import entries
from tests.pinning.test_against_oracle import stacks_of

randoms = st.integers(0, 2**63).map(Random)
laws = settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow], database=None)


def any_core(rng: Random) -> Pinning:
    return cases.random_core(rng, cases.random_format(rng))


def any_key(rng: Random, core: Pinning) -> Bitting:
    return parse_any_bitting(core.format, cases.random_text(rng, core.format))


def blocked(chambers: tuple[LiftedChamber, ...]) -> tuple[list[int], list[int]]:
    return (
        [each.position for each in chambers if each.at_operating],
        [each.position for each in chambers if each.at_withdrawing],
    )


@laws
@given(randoms)
def test_a_chamber_is_free_exactly_where_two_slices_of_different_pins_touch(rng: Random) -> None:
    core = any_core(rng)
    key = any_key(rng, core)
    stacks, format = stacks_of(core), to_mapping(core.format)
    sleeve = oracle.sleeve_of(format)
    for chamber, stack, cut in zip(lift(core, key), stacks, key.cuts, strict=True):
        wall = format["control"]["addition"] if chamber.position in sleeve else 0
        assert (chamber.at_operating is None) == oracle.is_clear(stack, cut, 0)
        assert (chamber.at_withdrawing is None) == oracle.is_clear(stack, cut, wall)


@laws
@given(randoms)
def test_the_chambers_say_what_turn_says(rng: Random) -> None:
    core = any_core(rng)
    key = any_key(rng, core)
    told = turn(core, key)
    at_operating, at_withdrawing = blocked(lift(core, key))
    assert told.operates == (not at_operating)
    if core.format.sleeve:
        assert told.withdraws == (not at_withdrawing)
        assert list(told.binds) == min(at_operating, at_withdrawing, key=len)
    else:
        assert at_operating == at_withdrawing == list(told.binds)


@laws
@given(randoms)
def test_pins_stand_on_one_another_and_a_deeper_cut_lets_them_all_down_alike(rng: Random) -> None:
    core = any_core(rng)
    key, other = any_key(rng, core), any_key(rng, core)
    for chamber, lower, stack in zip(lift(core, key), lift(core, other), core.stacks, strict=True):
        assert [(pin.role, pin.size) for pin in chamber.pins] == list(stack.pins)
        assert all(pin.head - pin.foot == pin.size for pin in chamber.pins)
        assert all(on.foot == pin.head for pin, on in zip(chamber.pins, chamber.pins[1:], strict=False))
        by = lower.cut - chamber.cut
        assert tuple(height - by for height in chamber.breaks) == lower.breaks


@laws
@given(randoms)
def test_what_stands_across_has_its_whole_size_on_the_two_sides(rng: Random) -> None:
    core = any_core(rng)
    for chamber in lift(core, any_key(rng, core)):
        for line, found in ((0, chamber.at_operating), (chamber.line, chamber.at_withdrawing)):
            if found and found.role in {"master", "control"}:
                assert found.above + found.below == found.size
                assert found.above > 0 < found.below
            if found and found.role == "bottom":
                assert chamber.breaks[0] == line + found.above > line
            if found and found.role == "top":
                assert chamber.breaks[-1] == line - found.below < line


def test_a_spring_stands_across_where_the_pins_end_below_the_line() -> None:
    small = load("small-a4-5")
    stack = {"bottom": 0, "masters": [], "control": 1, "top": 1}
    core = parse_stacks(small, [stack | {"position": place} for place in range(1, 6)])
    first = lift(core, parse_any_bitting(small, "55555"))[0]
    assert first.at_operating is not None
    assert (first.at_operating.role, first.at_operating.below) == ("spring", 3)


def test_a_driver_of_a_table_has_a_number_and_no_length() -> None:
    fixed = load("fixed-6")
    stack = {"bottom": 1, "masters": [], "control": None, "top": 1}
    core = parse_stacks(fixed, [stack | {"position": place} for place in range(1, 7)])
    found = lift(core, parse_any_bitting(fixed, "999999"))[0].at_operating
    assert found is not None
    assert (found.role, found.above, found.below) == ("top", 0, 8)


@pytest.mark.parametrize("case", entries("constructions", "stack"), ids=lambda case: case["format"])
def test_every_published_stack_parts_at_its_own_cuts_and_nowhere_else(case: dict[str, Any]) -> None:
    """The stacks of the trade's rule, worked by hand: an operating cut frees the operating line, the control
    cut the sleeve's, and what else frees one follows from the sums of the pins."""
    format = load(case["format"])
    place, pins = case["position"], case["pins"]
    control = "control" in case and place in format.sleeve
    heads = [sum(pins[: number + 1]) for number in range(len(pins) - 1)]
    stack = {
        "bottom": pins[0],
        "masters": pins[1 : -2 if control else -1],
        "control": pins[-2] if control else None,
        "top": pins[-1],
    }
    stacks = [stack | {"position": position} for position in range(1, format.positions + 1)]
    core = parse_stacks(format, stacks)
    for cut in format.depth_values:
        chamber = lift(core, parse_any_bitting(format, format.symbol_of(cut) * format.positions))[place - 1]
        assert chamber.breaks == tuple(head - cut for head in heads)
        assert (chamber.at_operating is None) == (cut in heads)
        assert cut not in case["operating"] or chamber.at_operating is None
        if control:
            assert (chamber.at_withdrawing is None) == (cut + format.addition in heads)
            assert cut != case["control"] or chamber.at_withdrawing is None


def test_it_refuses_what_turn_refuses() -> None:
    small = load("small-a2-6")
    core = parse_stacks(
        small,
        [{"position": place, "bottom": 1, "masters": [], "control": 9, "top": 2} for place in range(1, 7)],
    )
    for blank, key in (
        ("operating", parse_any_bitting(load("small-a2-5"), "11111")),
        ("control", parse_any_bitting(small, "111111")),
    ):
        with pytest.raises(Refused):
            lift(core, key, blank)


def test_every_construction_is_lifted() -> None:
    rng = Random(4)
    for format in load_all():
        for _ in range(20):
            core = cases.random_core(rng, format)
            key = any_key(rng, core)
            assert turn(core, key).operates == (not blocked(lift(core, key))[0])
