"""Repinning, drawing a key, residuals and a format's self-proof, on cores one can count through."""

from dataclasses import replace

import pytest

from pinning import (
    Refused,
    key_profile,
    load,
    parse_bitting,
    parse_format,
    pin,
    prove_format,
    repin,
    residuals,
    to_mapping,
)

A2 = load("small-a2-5")
LARGE = load("large-sleeve-34")
PADLOCK = load("padlock-screw-6")


def test_a_new_control_key_touches_only_what_stands_above_the_masters() -> None:
    change = repin(pin(A2, ["36149", "58147"], "74381"), pin(A2, ["36149", "58147"], "74382"))
    assert change.untouched == (1, 2, 3, 4)
    chamber = change.chambers[0]
    assert chamber.keep == (("bottom", 7), ("master", 2))
    assert chamber.remove == (("control", 2), ("top", 12))
    assert dict(change.add) == {("control", 3): 1, ("top", 11): 1}


def test_a_pin_that_comes_out_and_goes_in_again_is_not_taken_from_the_kit() -> None:
    change = repin(pin(PADLOCK, ["524356"], None), pin(PADLOCK, ["524356", "324356"], None))
    chamber = change.chambers[0]
    assert (chamber.position, chamber.keep, chamber.lift) == (1, (), (("top", 5),))
    assert (dict(change.remove), dict(change.add)) == (
        {("bottom", 5): 1},
        {("bottom", 3): 1, ("master", 2): 1},
    )
    assert chamber.insert == (("bottom", 3), ("master", 2), ("top", 5))
    assert chamber.touched == 4


def test_equal_pins_of_several_positions_are_counted_together() -> None:
    change = repin(pin(PADLOCK, ["222222"], None), pin(PADLOCK, ["444444"], None))
    assert dict(change.add) == {("bottom", 4): 6, ("top", 6): 6}
    assert dict(change.remove) == {("bottom", 2): 6, ("top", 8): 6}


def test_emptying_and_filling_a_position_moves_all_its_pins() -> None:
    full, empty = pin(PADLOCK, ["524356"], None), pin(PADLOCK, ["52435-"], None)
    assert repin(full, empty).chambers[0].remove == (("bottom", 6), ("top", 4))
    assert repin(empty, full).chambers[0].insert == (("bottom", 6), ("top", 4))


def test_it_refuses_to_repin_into_another_format() -> None:
    with pytest.raises(Refused) as refused:
        repin(pin(PADLOCK, ["524356"], None), pin(load("full-tip-6"), ["524356"], None))
    assert [reason.code for reason in refused.value.refusals] == ["formats_differ"]


def test_cuts_lie_from_the_reference_at_the_formats_spacing() -> None:
    profile = key_profile(LARGE, parse_bitting(LARGE, "521345"))
    assert [cut.centre_in for cut in profile.cuts] == [0.231, 0.387, 0.543, 0.699, 0.855, 1.011]
    assert [cut.root_depth_in for cut in profile.cuts] == [0.26, 0.305, 0.32, 0.29, 0.275, 0.26]
    assert (profile.reference, key_profile(A2, parse_bitting(A2, "36149")).reference) == ("shoulder", "tip")


def test_equal_cuts_have_a_ridge_half_way_between_them() -> None:
    profile = key_profile(LARGE, parse_bitting(LARGE, "555555"))
    ridge = [(x, y) for x, y in profile.points if 0.231 + 0.02 < x < 0.387 - 0.02]
    assert ridge == [(0.309, 0.3185)]  # .260, and half of what two quarter-width flats leave of .156


def test_the_steepest_allowed_neighbours_still_reach_their_flats() -> None:
    profile = key_profile(LARGE, parse_bitting(LARGE, "929292"))
    for cut in profile.cuts:
        assert sum(y == cut.root_depth_in for _, y in profile.points) >= 2


@pytest.mark.parametrize("name", ["first_cut_in", "spacing_in", "plug_diameter_in"])
def test_it_refuses_to_draw_a_key_without_its_measures(name: str) -> None:
    lacking = parse_format(to_mapping(A2) | {name: None})
    with pytest.raises(Refused) as refused:
        key_profile(lacking, parse_bitting(A2, "36149"))
    assert [reason.code for reason in refused.value.refusals] == ["not_drawable"]


def test_it_refuses_to_draw_a_key_of_another_length() -> None:
    with pytest.raises(Refused, match="6 cuts"):
        key_profile(A2, parse_bitting(LARGE, "521345"))


def test_a_profile_does_not_show_cuts_by_accident() -> None:
    assert "cuts" not in repr(key_profile(A2, parse_bitting(A2, "36149")))


def test_residuals_are_thousandths_above_or_below_the_line() -> None:
    """3 and 5 to operate, 7 to withdraw; the bottom pin .0010 long, the control pin .0015 short."""
    rows = residuals(A2, [[0.1485, 0.0250, 0.1485, 0.0750]] * 5)
    low, middle, high = rows[0]
    assert (low.cut, low.thousandths) == (3, 1.0)
    assert (middle.cut, middle.thousandths) == (5, 1.0)
    assert (high.control_cut, high.control_thousandths) == (7, -0.5)


def test_outside_the_sleeve_there_is_no_control_line() -> None:
    rows = residuals(LARGE, [[0.21, 0.105]] * 5 + [[]])
    assert rows[0][0].control_cut is None
    assert rows[2][0].control_cut is not None
    assert rows[5] == ()


def test_residuals_need_measurements_of_every_position() -> None:
    with pytest.raises(Refused) as refused:
        residuals(A2, [[0.14, 0.1]] * 4)
    assert [reason.code for reason in refused.value.refusals] == ["positions"]


def test_a_sound_ordinary_cylinder_proves_itself() -> None:
    proof = prove_format(PADLOCK)
    assert (proof.tried, proof.impossible) == (60, ())


def test_a_kit_with_a_gap_is_found_out() -> None:
    kit = replace(PADLOCK.pins, top=tuple(size for size in PADLOCK.pins.top if size != 4))
    proof = prove_format(replace(PADLOCK, pins=kit))
    assert {(case.position, case.operating, case.code) for case in proof.impossible} == {
        (position, 6, "unbuildable") for position in range(1, 7)
    }


def test_a_driver_table_with_a_gap_is_found_out() -> None:
    fixed = load("fixed-6")
    proof = prove_format(replace(fixed, drivers=(fixed.drivers or ())[:2]))
    assert {case.operating for case in proof.impossible} == {7, 8, 9}
    assert "driver table" in proof.impossible[0].reason


def test_a_control_cut_without_room_for_a_top_pin_is_found_out() -> None:
    """Large format: 13 - 6 - 7 leaves nothing for a top pin, so control cuts end at 6."""
    proof = prove_format(LARGE)
    assert {case.position for case in proof.impossible} == {3, 4}
    assert len(proof.impossible) == 2 * (3 * 10 + 4 + 3 + 2 + 1)  # no top pin; no control pin
    assert {case.control for case in proof.impossible if case.operating == 0} == {7, 8, 9}
    assert {case.operating for case in proof.impossible if case.control == 0} == {6, 7, 8, 9}


def test_under_a_sleeve_of_one_position_a_shared_cut_is_found_out() -> None:
    control = to_mapping(A2)["control"] | {"positions": [1]}
    format = parse_format(to_mapping(A2) | {"control": control, "total": {"plain": 12, "sleeve": 23}})
    shared = [case for case in prove_format(format).impossible if case.code == "control_shared"]
    assert [(case.position, case.operating, case.control) for case in shared] == [
        (1, cut, cut) for cut in range(10)
    ]


def test_a_kit_that_never_tells_the_two_keys_apart_is_found_out() -> None:
    """With one control pin, as long as the sleeve is thick, the control key must be the operating key."""
    proof = prove_format(replace(A2, pins=replace(A2.pins, control=(A2.addition,))))
    assert len(proof.impossible) == proof.tried == 500
    assert {case.code for case in proof.impossible if case.operating == case.control} == {"control_shared"}
