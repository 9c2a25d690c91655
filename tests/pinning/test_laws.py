"""Laws that hold for every format and every pinned core, over random formats (Hypothesis)."""

from random import Random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pinning import (
    Bitting,
    CoreFormat,
    Pinning,
    Refused,
    decode,
    operating_cuts,
    parse_any_bitting,
    parse_bitting,
    parse_format,
    parse_stacks,
    pin,
    render,
    to_mapping,
    turn,
    withdrawing_cuts,
)
from tests.pinning import cases
from tests.pinning.test_against_oracle import random_keys, stacks_of

Pinned = tuple[Pinning, list[str], str | None]

randoms = st.integers(0, 2**63).map(Random)
formats = randoms.map(cases.random_format)
cores = randoms.map(lambda rng: cases.random_core(rng, cases.random_format(rng)))


def pinned_core(rng: Random) -> Pinned:
    """A core that could be pinned; of tries with random keys some always end well."""
    while True:
        format = cases.random_format(rng)
        keys, control = random_keys(rng, format)
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
        assert stack.total == expected_total(core.format, stack.position, deepest)


@laws
@given(pinned_cores)
def test_every_operating_key_turns_its_core(pinned: Pinned) -> None:
    core, keys, _ = pinned
    assert all(turn(core, parse_any_bitting(core.format, key)).operates for key in keys)


@laws
@given(pinned_cores)
def test_the_control_key_withdraws_its_core(pinned: Pinned) -> None:
    core, _, control = pinned
    assert (control is None) == (not core.format.sleeve)
    assert control is None or turn(core, parse_any_bitting(core.format, control)).withdraws


@laws
@given(pinned_cores)
def test_no_pin_is_outside_the_kit(pinned: Pinned) -> None:
    core, _, _ = pinned
    kit = core.format.pins
    for stack in core.stacks:
        assert stack.bottom in kit.bottom
        assert stack.top in kit.top
        assert set(stack.masters) <= set(kit.master)
        assert stack.control is None or stack.control in kit.control


@laws
@given(pinned_cores)
def test_decoding_gives_the_keys_back(pinned: Pinned) -> None:
    core, keys, control = pinned
    bittings = [parse_bitting(core.format, key) for key in keys]
    columns = zip(*(bitting.cuts for bitting in bittings), strict=True)
    decoded = decode(core)
    assert decoded.operating == tuple(tuple(sorted(set(column))) for column in columns)
    if control is not None:
        cuts = parse_bitting(core.format, control).cuts
        assert all(cut in allowed for cut, allowed in zip(cuts, decoded.control_cuts, strict=True))


@laws
@given(pinned_cores)
def test_pinning_what_was_decoded_gives_the_same_breaks(pinned: Pinned) -> None:
    """The box has corners that make the same core: its shallowest and its deepest key, and those between."""
    core, keys, control = pinned
    again = pin(core.format, keys[::-1], control)
    assert [stack.breaks for stack in again.stacks] == [stack.breaks for stack in core.stacks]


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
