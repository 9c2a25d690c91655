"""Control proposals: buildable in every core of the system, and no key to any of them."""

from itertools import pairwise, product
from random import Random
from typing import Any

import pytest

from pinning import (
    METHODS,
    Bitting,
    CoreFormat,
    Refused,
    bitting_of,
    by_method,
    key_bitting_array,
    load,
    make_room,
    operating_cuts,
    parse_bitting,
    parse_format,
    pin,
    progress,
    propose_control,
    propose_master,
    to_mapping,
    turn,
    withdrawing_cuts,
)

SMALL = [f"small-a{system}-{count}" for system in (2, 3, 4) for count in (5, 6, 7)]
LARGE = ["large-sleeve-34", "large-sleeve-2345"]
SYSTEMS = [*SMALL, *LARGE]
A4 = load("small-a4-6")


def proposed(format: CoreFormat, seed: int) -> tuple[Bitting, tuple[tuple[int, ...], ...], Bitting]:
    rng = Random(seed)
    master = propose_master(format, rng)
    array = make_room(format, master, rng)
    return master, array, propose_control(format, master, rng, array)


@pytest.mark.parametrize("format_id", SYSTEMS)
@pytest.mark.parametrize("seed", range(5))
def test_a_proposal_can_be_pinned_with_any_operating_keys_of_the_system(format_id: str, seed: int) -> None:
    format, rng = load(format_id), Random(100 + seed)
    master, array, control = proposed(format, seed)
    for _ in range(60):
        columns = [(own, *column) for own, column in zip(master.cuts, array, strict=True)]
        keys = [
            master,
            *(legal_key(rng, format, columns) for _ in range(rng.randint(1, 3))),
        ]
        core = pin(format, keys, control)
        assert (turn(core, control).operates, turn(core, control).withdraws) == (False, True)
        assert not any(turn(core, key).withdraws for key in keys)


def legal_key(rng: Random, format: CoreFormat, columns: list[tuple[int, ...]]) -> Bitting:
    """A key from these columns within the adjacent-cut limit."""
    while True:
        cuts = [rng.choice(column) for column in columns]
        limit = format.macs or 99
        if all(abs(deeper - cut) <= limit for cut, deeper in pairwise(cuts)):
            return bitting_of(format, cuts)


@pytest.mark.parametrize("format_id", LARGE)
@pytest.mark.parametrize("seed", range(20))
def test_a_thin_sleeve_costs_the_array_only_cuts_of_one_position_under_it(format_id: str, seed: int) -> None:
    """K is 6: of five cuts of one series at most three have no partner 6 away."""
    format = load(format_id)
    master, array, control = proposed(format, seed)
    full = key_bitting_array(format, master)
    (place,) = (place for place in range(format.positions) if array[place] != full[place])
    used = {master.cuts[place], *array[place]}
    assert place + 1 in format.sleeve
    assert not any(cut + format.addition in used for cut in used)
    assert control.cuts[place] not in used


@pytest.mark.parametrize("format_id", SYSTEMS)
def test_a_proposal_is_none_of_the_systems_operating_bittings(format_id: str) -> None:
    for seed in range(30):
        master, array, control = proposed(load(format_id), seed)
        columns = zip(control.cuts, master.cuts, array, strict=True)
        assert any(cut not in (own, *column) for cut, own, column in columns)


def test_a_step_of_two_leaves_the_array_whole() -> None:
    a2 = load("small-a2-6")
    master = parse_bitting(a2, "143254")
    assert make_room(a2, master, Random(1)) == key_bitting_array(a2, master)


def test_a_step_of_one_costs_one_depth_of_one_position() -> None:
    master = parse_bitting(A4, "143254")
    room = make_room(A4, master, Random(1))
    assert sorted(map(len, room)) == [4, 5, 5, 5, 5, 5]


def test_the_same_seed_proposes_the_same_control_key() -> None:
    assert proposed(A4, 3) == proposed(A4, 3)
    assert len({proposed(A4, seed)[2].text for seed in range(10)}) > 5


def refused(format: CoreFormat, master: str) -> set[str]:
    with pytest.raises(Refused) as found:
        propose_control(format, parse_bitting(format, master), Random(1))
    return {reason.code for reason in found.value.refusals}


def test_it_refuses_if_every_control_key_would_turn_a_plug() -> None:
    assert refused(A4, "143254") == {"control_not_distinct"}


def test_it_refuses_where_there_is_no_sleeve() -> None:
    assert refused(load("fixed-6"), "143254") == {"control_not_used"}


def middle_sleeve(**changes: Any) -> CoreFormat:
    control = {"kind": "sleeve", "positions": [3, 4], "addition": 10}
    mapping = to_mapping(load("small-a2-6")) | {"total": {"plain": 12, "sleeve": 23}, "control": control}
    return parse_format(mapping | changes)


def test_it_refuses_if_the_kit_is_too_small() -> None:
    kit = to_mapping(load("small-a2-6"))["pins"] | {"control": [10]}
    assert refused(middle_sleeve(pins=kit), "143254") == {"control_unbuildable"}


@pytest.mark.parametrize("seed", range(20))
def test_a_proposal_needs_no_top_pin_that_the_kit_lacks(seed: int) -> None:
    kit = to_mapping(load("small-a2-6"))["pins"] | {"top": [7, 8]}
    format = middle_sleeve(pins=kit)
    control = propose_control(format, parse_bitting(format, "143254"), Random(seed))
    assert {control.cuts[2], control.cuts[3]} <= {23 - 10 - 7, 23 - 10 - 8}


@pytest.mark.parametrize("seed", range(20))
def test_outside_the_sleeve_a_proposal_carries_the_masters_cuts(seed: int) -> None:
    format = middle_sleeve(macs=5)
    master = parse_bitting(format, "143254")
    control = propose_control(format, master, Random(seed))
    assert [control.cuts[place] for place in (0, 1, 4, 5)] == [1, 4, 5, 4]
    assert parse_bitting(format, control.text) == control


def test_a_proposal_is_found_whenever_trying_all_bittings_finds_one() -> None:
    format = middle_sleeve(macs=1, depths="012345", depth_values=None)
    master = parse_bitting(format, "222222")
    found = {propose_control(format, master, Random(seed)).text for seed in range(200)}
    assert found == {
        f"22{third}{fourth}22"
        for third, fourth in product("012345", repeat=2)
        if {third, fourth} <= set("123")
        and {third, fourth} & set("13")
        and abs(int(third) - int(fourth)) <= 1
    }


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("format_id", ["small-a2-6", "small-a3-6", "small-a4-6", *LARGE])
def test_by_every_method_no_bitting_a_core_takes_withdraws_it_nor_the_control_turns_it(
    format_id: str, method: str
) -> None:
    """Every combination of a core's cuts is looked at: the incidental keys too."""
    format, rng = load(format_id), Random(9)
    master, array, control = proposed(format, 3)
    keys = by_method(progress(format, master, array), method, 2)
    for _ in range(40):
        key = keys[rng.randrange(keys.total)]
        if any(abs(a - b) > (format.macs or 99) for a, b in pairwise(key.cuts)):
            continue
        core = pin(format, [master, key], control)
        taken = set(product(*operating_cuts(core)))
        assert control.cuts not in taken
        assert not taken & set(product(*withdrawing_cuts(core)))
