"""Laws that hold for every format and every pinned core, over random formats (Hypothesis)."""

from collections.abc import Iterable
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pinning import (
    EMPTY,
    Bitting,
    CoreFormat,
    Pinning,
    Refused,
    decode,
    operating_cuts,
    parse_any_bitting,
    parse_format,
    parse_stacks,
    pin,
    render,
    to_mapping,
    turn,
    withdrawing_cuts,
)
from tests.pinning import cases
from tests.pinning.test_against_oracle import stacks_of

Pinned = tuple[Pinning, list[str], str | None]

randoms = st.integers(0, 2**63).map(Random)
formats = randoms.map(cases.random_format)
cores = randoms.map(lambda rng: cases.random_core(rng, cases.random_format(rng)))


def pinned_core(rng: Random) -> Pinned:
    """A core that could be pinned; of tries with random keys some always end well."""
    while True:
        format = cases.random_format(rng)
        keys, control = cases.random_keys(rng, format)
        try:
            return pin(format, keys, control), keys, control
        except Refused:
            continue


pinned_cores = randoms.map(pinned_core)
laws = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow], database=None)


def expected_total(format: CoreFormat, position: int, deepest: int) -> int | None:
    if position in format.sleeve:
        return format.total.sleeve
    if format.drivers is None:
        return format.total.plain
    return deepest + next(row.pin for row in format.drivers if row.low <= deepest <= row.high)


@laws
@given(formats)
def test_a_format_is_what_it_prints(format: CoreFormat) -> None:
    assert parse_format(to_mapping(format)) == format


@laws
@given(pinned_cores)
def test_stacks_add_up_to_what_the_format_says(pinned: Pinned) -> None:
    core, _, _ = pinned
    for stack in core.stacks:
        deepest = stack.bottom + sum(stack.masters)
        assert stack.is_empty or stack.total == expected_total(core.format, stack.position, deepest)


@laws
@given(pinned_cores, randoms)
def test_every_operating_key_turns_its_core(pinned: Pinned, rng: Random) -> None:
    core, keys, _ = pinned
    assert all(turn(core, cut_key(rng, core.format, key)).operates for key in keys)


@laws
@given(pinned_cores, randoms)
def test_the_control_key_withdraws_its_core_and_no_other_key_given_does(pinned: Pinned, rng: Random) -> None:
    core, keys, control = pinned
    assert (control is None) == (not core.format.sleeve)
    assert control is None or turn(core, cut_key(rng, core.format, control)).withdraws
    assert not any(turn(core, cut_key(rng, core.format, key)).withdraws for key in keys)


def cut_key(rng: Random, format: CoreFormat, text: str) -> Bitting:
    return parse_any_bitting(format, cases.completed(rng, format, text))


@laws
@given(pinned_cores, randoms)
def test_on_the_control_blank_of_a_tip_operated_core_every_operating_key_withdraws(
    pinned: Pinned, rng: Random
) -> None:
    core, keys, _ = pinned
    key = cut_key(rng, core.format, keys[0])
    if core.format.control_kind == "tip":
        found = turn(core, key, "control")
        assert (found.operates, found.withdraws) == (True, True)
        assert withdrawing_cuts(core, "control") == operating_cuts(core)
        return
    with pytest.raises(Refused):
        turn(core, key, "control")


@laws
@given(cores, randoms)
def test_only_a_core_held_by_a_screw_has_steps_and_only_with_a_key_that_operates(
    core: Pinning, rng: Random
) -> None:
    found = turn(core, parse_any_bitting(core.format, cases.random_text(rng, core.format)))
    assert bool(found.steps) == (found.operates and core.format.control_kind == "screw")


@laws
@given(pinned_cores)
def test_read_from_the_other_end_the_same_pins_come_out_in_reverse(pinned: Pinned) -> None:
    """Position 1 is the first cut as it is read: bow to tip, a core is numbered the other way."""
    core, keys, control = pinned
    turned = mirrored(core.format)
    other = pin(turned, [key[::-1] for key in keys], control[::-1] if control else None)
    assert [stack.pins for stack in other.stacks] == [stack.pins for stack in core.stacks[::-1]]


def mirrored(format: CoreFormat) -> CoreFormat:
    mapping = to_mapping(format)
    mapping["order"] = {"tip-bow": "bow-tip", "bow-tip": "tip-bow"}[format.order]
    if format.sleeve:
        places = [format.positions + 1 - position for position in format.sleeve]
        mapping["control"] = mapping["control"] | {"positions": places}
    return parse_format(mapping)


@laws
@given(pinned_cores)
def test_no_pin_is_outside_the_kit(pinned: Pinned) -> None:
    core, _, _ = pinned
    kit = core.format.pins
    assert all(size in kit.sizes(role) for stack in core.stacks for role, size in stack.pins)


@laws
@given(pinned_cores)
def test_decoding_gives_the_keys_back(pinned: Pinned) -> None:
    core, keys, control = pinned
    decoded = decode(core)
    assert decoded.operating == tuple(box_column(core.format, c) for c in zip(*keys, strict=True))
    if control is not None:
        for symbol, allowed in zip(control, decoded.control_cuts, strict=True):
            assert set(box_column(core.format, [symbol])) <= set(allowed)


def box_column(format: CoreFormat, symbols: Iterable[str]) -> tuple[int, ...]:
    """The depths that these cuts mean; all where no pins are."""
    numbers = dict(zip(format.depths, format.depth_values, strict=True))
    meant = {numbers[symbol] for symbol in symbols if symbol != EMPTY}
    return tuple(sorted(meant)) or format.depth_values


@laws
@given(pinned_cores)
def test_the_control_key_that_is_decoded_withdraws_the_core(pinned: Pinned) -> None:
    core, _, _ = pinned
    control = decode(core).control
    assert control is None or turn(core, control).withdraws


@laws
@given(pinned_cores)
def test_the_order_of_the_keys_does_not_matter(pinned: Pinned) -> None:
    core, keys, control = pinned
    assert pin(core.format, keys[::-1], control) == core


@laws
@given(cores, randoms)
def test_a_key_turns_a_core_exactly_if_it_lies_in_the_box(core: Pinning, rng: Random) -> None:
    key = parse_any_bitting(core.format, cases.random_text(rng, core.format))
    found = turn(core, key)
    assert found.operates == lies_in(key, operating_cuts(core))
    assert found.withdraws == lies_in(key, withdrawing_cuts(core))
    assert bool(found.binds) != (found.operates or found.withdraws)


def lies_in(key: Bitting, box: tuple[tuple[int, ...], ...]) -> bool:
    return all(cut in allowed for cut, allowed in zip(key.cuts, box, strict=True))


@laws
@given(cores)
def test_stacks_are_read_back_as_they_were_written(core: Pinning) -> None:
    assert parse_stacks(core.format, stacks_of(core)[::-1]) == core


@laws
@given(formats, randoms)
def test_a_bitting_is_written_as_it_was_read(format: CoreFormat, rng: Random) -> None:
    text = cases.random_text(rng, format)
    assert render(format, parse_any_bitting(format, text)) == text
