"""Reading measured pins back, and refusing what nobody can have meant."""

from typing import Any

import pytest

from pinning import Refused, decode, load, parse_format, parse_stacks, to_mapping

A2 = load("small-a2-5")
FIXED = load("fixed-6")
SOUND = {"bottom": 3, "masters": [2], "control": 12, "top": 6}


def codes(stack: dict[str, Any], format_id: str = "small-a2-5") -> set[str]:
    format = load(format_id)
    core = parse_stacks(format, [stack | {"position": place} for place in range(1, format.positions + 1)])
    with pytest.raises(Refused) as refused:
        decode(core)
    return {reason.code for reason in refused.value.refusals}


def test_sound_stacks_give_both_keys() -> None:
    decoded = decode(parse_stacks(A2, [SOUND | {"position": place} for place in range(1, 6)]))
    assert decoded.operating == ((3, 5),) * 5
    assert decoded.control is not None
    assert decoded.control.text == "77777"


def test_an_operating_cut_below_the_deepest_depth_is_impossible() -> None:
    assert codes({"bottom": 8, "masters": [2], "control": 9, "top": 4}) == {"depth"}


def test_a_column_of_the_wrong_length_is_impossible() -> None:
    assert codes(SOUND | {"top": 5}) == {"total"}


def test_a_sleeve_without_its_control_pin_is_impossible() -> None:
    assert "control_required" in codes(SOUND | {"control": None})


def test_a_control_pin_without_a_sleeve_is_impossible() -> None:
    assert codes({"bottom": 3, "masters": [], "control": 4, "top": 1}, "fixed-6") == {"control_not_used"}


def test_a_driver_that_is_not_the_tables_is_impossible() -> None:
    assert codes({"bottom": 3, "masters": [], "top": 2}, "fixed-6") == {"driver"}


def test_an_ordinary_cylinder_has_no_control_key() -> None:
    stacks = [{"position": place, "bottom": 3, "masters": [], "top": 1} for place in range(1, 7)]
    decoded = decode(parse_stacks(FIXED, stacks))
    assert (decoded.control, decoded.control_cuts) == (None, ())


def test_outside_the_sleeve_the_control_key_may_carry_any_operating_cut() -> None:
    mapping = to_mapping(A2)
    control = mapping["control"] | {"positions": [1]}
    format = parse_format(mapping | {"control": control, "total": {"plain": 12, "sleeve": 23}})
    plain = [{"position": place, "bottom": 3, "masters": [2], "top": 7} for place in range(2, 6)]
    decoded = decode(parse_stacks(format, [SOUND | {"position": 1}, *plain]))
    assert decoded.control_cuts == ((7,), (3, 5), (3, 5), (3, 5), (3, 5))
    assert decoded.control is not None
    assert decoded.control.text == "73333"
