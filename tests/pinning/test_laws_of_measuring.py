"""Laws of what is read from pins and keys, of repinning and of a format's self-proof, over random formats."""

from collections import Counter
from random import Random
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from pinning import (
    CoreFormat,
    Pinning,
    PinStack,
    decode,
    key_profile,
    operating_cuts,
    parse_any_bitting,
    prove_format,
    read_key,
    read_stacks,
    repin,
    residuals,
    to_mapping,
)
from tests.pinning import cases, oracle
from tests.pinning.test_laws import Pinned, cores, formats, laws, pinned_core, pinned_cores, randoms

TOLERANCE = 0.002


def lengths_of(core: Pinning, rng: Random, error: float) -> list[list[float]]:
    """Each pin's length in inches, measured with an error of at most that size."""
    format = core.format
    rows = []
    for stack in core.stacks:
        bottom = [format.length_in(stack.bottom)] if stack.pins else []
        others = [size * format.increment_in for _, size in stack.pins[1:]]
        rows.append([length + rng.uniform(-error, error) for length in bottom + others])
    return rows


@laws
@given(pinned_cores, randoms)
def test_pins_measured_within_the_tolerance_are_the_pins_that_went_in(pinned: Pinned, rng: Random) -> None:
    core, _, _ = pinned
    reading = read_stacks(core.format, measured_in=lengths_of(core, rng, TOLERANCE * 0.99))
    assert reading.pinning == core
    assert (reading.doubts, reading.operating) == ((), decode(core).operating)
    assert (reading.control, reading.accepts) == (decode(core).control, core.accepts)


@laws
@given(cores)
def test_a_reading_without_doubts_is_what_decoding_says(core: Pinning) -> None:
    reading = read_stacks(core.format, core)
    if not reading.doubts:
        decoded = decode(core)
        assert (reading.operating, reading.control) == (decoded.operating, decoded.control)
        assert reading.control_cuts == decoded.control_cuts


@laws
@given(cores)
def test_every_alternative_is_sound_and_from_the_kit(core: Pinning) -> None:
    for doubt in read_stacks(core.format, core).doubts:
        for stack in doubt.alternatives:
            assert isinstance(stack, PinStack)
            own = (*core.stacks[: doubt.position - 1], stack, *core.stacks[doubt.position :])
            again = read_stacks(core.format, Pinning(core.format, own)).doubts
            assert doubt.position not in {other.position for other in again}
            assert all(size in core.format.pins.sizes(role) for role, size in stack.pins)


@laws
@given(pinned_cores, randoms)
def test_one_misread_pin_is_caught_and_the_true_pins_are_named(pinned: Pinned, rng: Random) -> None:
    """Where stacks have a total, one wrong size cannot give the right total; a driver table tells less."""
    core, _, _ = pinned
    place = rng.randrange(len(core.stacks))
    true = core.stacks[place]
    if true.is_empty or (core.format.drivers and true.position not in core.format.sleeve):
        return
    misread = PinStack(true.position, true.bottom, true.masters, true.control, true.top + rng.choice([-1, 1]))
    stacks = (*core.stacks[:place], misread, *core.stacks[place + 1 :])
    doubts = read_stacks(core.format, Pinning(core.format, stacks)).doubts
    assert {doubt.position for doubt in doubts} == {true.position}
    assert all(true in doubt.alternatives for doubt in doubts)


@laws
@given(randoms)
def test_doing_what_repin_says_to_one_core_makes_it_the_other(rng: Random) -> None:
    now, target = two_cores(rng)
    change = repin(now, target)
    changed = {chamber.position: chamber for chamber in change.chambers}
    assert sorted([*changed, *change.untouched]) == list(range(1, now.format.positions + 1))
    columns = [list(stack.pins) for stack in now.stacks]
    for position, chamber in changed.items():
        columns[position - 1] = worked(columns[position - 1], chamber)
    built = Pinning(now.format, tuple(stack_of(place, pins) for place, pins in enumerate(columns, 1)))
    assert built == target
    assert decode(built) == decode(target)


def two_cores(rng: Random) -> tuple[Pinning, Pinning]:
    """Two cores of one format that could be pinned."""
    now, _, _ = pinned_core(rng)
    for _ in range(200):
        keys, control = cases.random_keys(rng, now.format)
        if target := cases.tried(now.format, keys, control):
            return now, target
    return now, now


def worked(column: list[tuple[str, int]], chamber: Any) -> list[tuple[str, int]]:
    """The bench: pins leave from the top; what goes in was either lifted out or taken from the kit."""
    out = Counter[tuple[str, int]]()
    while len(column) > len(chamber.keep):
        out[column.pop()] += 1
    assert tuple(column) == chamber.keep
    assert out == Counter(chamber.remove) + Counter(chamber.lift)
    assert Counter(chamber.insert) == Counter(chamber.lift) + Counter(chamber.add)
    return [*column, *chamber.insert]


def stack_of(position: int, pins: list[tuple[str, int]]) -> PinStack:
    sizes = dict(pins)
    masters = tuple(size for role, size in pins if role == "master")
    return PinStack(position, sizes.get("bottom", 0), masters, sizes.get("control"), sizes.get("top", 0))


@laws
@given(randoms)
def test_repinning_takes_from_the_kit_only_what_is_missing(rng: Random) -> None:
    now, target = two_cores(rng)
    change = repin(now, target)
    kit = now.format.pins
    assert all(size in kit.sizes(role) for role, size in change.add)
    for chamber in change.chambers:
        assert not Counter(chamber.add) & Counter(chamber.remove)
        above = now.stacks[chamber.position - 1].pins[len(chamber.keep) :]
        assert above[:1] != chamber.insert[:1]


@laws
@given(cores)
def test_repinning_a_core_to_itself_touches_nothing(core: Pinning) -> None:
    change = repin(core, core)
    assert (change.chambers, len(change.untouched)) == ((), core.format.positions)
    assert not change.add + change.remove


@laws
@given(formats.filter(lambda format: format.plug_diameter_in is not None), randoms)
def test_a_worn_key_is_read_as_it_was_cut(format: CoreFormat, rng: Random) -> None:
    """Worn by less than half a depth, or measured too shallow within the tolerance."""
    key = parse_any_bitting(format, cases.random_text(rng, format))
    worn = [rng.uniform(-TOLERANCE, format.increment_in / 2) * 0.99 for _ in key.cuts]
    roots = [(format.root_depth_in(cut) or 0) - wear for cut, wear in zip(key.cuts, worn, strict=True)]
    reading = read_key(format, roots, TOLERANCE)
    assert reading.bitting == key
    assert {doubt.what for doubt in reading.doubts} <= {"macs"}


@laws
@given(formats.filter(lambda format: format.plug_diameter_in is not None), st.floats(0.01, 0.6), randoms)
def test_no_key_is_read_deeper_than_it_measures(format: CoreFormat, depth: float, rng: Random) -> None:
    bitting = read_key(format, [depth] * format.positions, TOLERANCE).bitting
    if bitting is not None:
        assert all((format.root_depth_in(cut) or 0) >= depth - TOLERANCE - 1e-6 for cut in bitting.cuts)


@laws
@given(pinned_cores, randoms)
def test_nominal_pins_leave_no_residual(pinned: Pinned, rng: Random) -> None:
    core, _, _ = pinned
    measured = residuals(core.format, lengths_of(core, rng, 0.0))
    for stack, found, cuts in zip(core.stacks, measured, operating_cuts(core), strict=True):
        assert len(found) == len(stack.breaks)
        assert {gap.cut for gap in found if gap.thousandths == 0} == (set(cuts) if stack.pins else set())


@laws
@given(formats, randoms)
def test_a_profile_runs_along_the_key_and_touches_each_root(format: CoreFormat, rng: Random) -> None:
    if None in (format.first_cut_in, format.spacing_in, format.plug_diameter_in):
        return
    key = parse_any_bitting(format, cases.random_text(rng, format))
    profile = key_profile(format, key)
    along = [x for x, _ in profile.points]
    assert along == sorted(along)
    assert (along[0], along[-1]) == (0, profile.length_in)
    assert max(y for _, y in profile.points) <= profile.height_in
    for cut, number in zip(profile.cuts, key.cuts, strict=True):
        assert abs(cut.root_depth_in - (format.root_depth_in(number) or 0)) < 1e-6
        flat = [y for x, y in profile.points if abs(x - cut.centre_in) < 0.02]
        assert flat.count(cut.root_depth_in) == 2


@laws
@given(formats)
def test_the_self_proof_finds_what_the_oracle_cannot_build(format: CoreFormat) -> None:
    """Position by position the oracle builds the column; a lone sleeve position needs two different cuts."""
    mapping, proof = to_mapping(format), prove_format(format)
    cases_tried = [
        (position, operating, control)
        for position in range(1, format.positions + 1)
        for operating in format.depth_values
        for control in (format.depth_values if position in format.sleeve else [None])
    ]
    sound = {case for case in cases_tried if is_built(mapping, *case)}
    apart = any(control not in (None, operating) for _, operating, control in sound)
    if len(format.sleeve) == 1 or not apart:
        sound -= {(position, cut, control) for position, cut, control in sound if cut == control}
    named = {(found.position, found.operating, found.control) for found in proof.impossible}
    assert (proof.tried, named) == (len(cases_tried), set(cases_tried) - sound)


def is_built(mapping: oracle.Json, position: int, operating: int, control: int | None) -> bool:
    own: oracle.Key | None = None if control is None else [control] * mapping["positions"]
    keys: list[oracle.Key] = [[operating] * mapping["positions"]]
    return oracle.column_built(mapping, position - 1, keys, own, oracle.sleeve_of(mapping)) is not None
