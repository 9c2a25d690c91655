"""Pins and keys measured on the bench: what is read, and what stays in doubt."""

from typing import Any

import pytest

from pinning import Doubt, PinStack, Reading, Refused, load, parse_stacks, pin, read_key, read_stacks

A2 = load("small-a2-5")
LARGE = load("large-sleeve-34")
FIXED = load("fixed-6")
GOOD = [0.1475, 0.0250, 0.1500, 0.0750]
ROOTS = [0.2805, 0.2430, 0.3055, 0.2680, 0.2055]


def read(last: list[float], tolerance: float = 0.002) -> Reading:
    """Four sound stacks of 3, 2, 12, 6 and one that is measured so."""
    return read_stacks(A2, measured_in=[GOOD] * 4 + [last], tolerance_in=tolerance)


def ordinary(top: int) -> list[dict[str, Any]]:
    return [{"position": n, "bottom": 3, "masters": [], "control": None, "top": top} for n in range(1, 7)]


def only(doubts: tuple[Doubt, ...]) -> Doubt:
    (doubt,) = doubts
    return doubt


def whats(reading: Any) -> list[tuple[int, str]]:
    return [(doubt.position, doubt.what) for doubt in reading.doubts]


def test_pins_within_the_tolerance_are_read_without_a_doubt() -> None:
    reading = read([0.1490, 0.0235, 0.1515, 0.0735])
    assert whats(reading) == []
    assert reading.operating == ((3, 5),) * 5
    assert (reading.control and reading.control.text, reading.accepts) == ("77777", 32)


def test_a_pin_between_two_sizes_is_in_doubt_and_the_sound_stack_is_named() -> None:
    doubt = only(read([0.1475, 0.0250, 0.1500, 0.0805]).doubts)
    assert (doubt.position, doubt.what) == (5, "between_sizes")
    assert doubt.alternatives[0] == PinStack(5, 3, (2,), 12, 6)
    assert "6 (0.0750 in) and 7 (0.0875 in)" in doubt.message


def test_a_bottom_pin_between_two_sizes_is_told_with_its_base() -> None:
    doubt = only(read([0.1430, 0.0250, 0.1500, 0.0750]).doubts)
    assert "2 (0.1350 in) and 3 (0.1475 in)" in doubt.message


def test_a_tolerance_that_reaches_two_sizes_leaves_every_pin_in_doubt() -> None:
    reading = read(GOOD, 0.0126)
    assert {what for _, what in whats(reading)} == {"between_sizes"}
    assert {doubt.position for doubt in reading.doubts} == {1, 2, 3, 4, 5}


def test_a_pin_that_no_kit_has_is_in_doubt() -> None:
    assert whats(read([0.1600, 0.0125, 0.1500, 0.0750])) == [(5, "not_in_kit"), (5, "parity")]


def test_a_column_of_the_wrong_length_is_in_doubt() -> None:
    reading = read([0.1475, 0.0250, 0.1500, 0.0875])
    doubt = only(reading.doubts)
    assert doubt.what == "total"
    assert PinStack(5, 3, (2,), 12, 6) in doubt.alternatives[:1]
    assert reading.operating[4] == (3, 5)


def test_the_right_length_of_impossible_pins_is_in_doubt() -> None:
    """5, 2, 14, 2 adds up to 23 and makes a control cut of 11 (trade forum)."""
    reading = read([0.1725, 0.0250, 0.1750, 0.0250])
    doubt = only(reading.doubts)
    assert (doubt.what, reading.control, reading.control_cuts[4]) == ("control_cut", None, ())
    assert PinStack(5, 5, (2,), 12, 4) in doubt.alternatives


def test_a_missing_control_pin_is_in_doubt() -> None:
    """Its absence also breaks the total."""
    assert whats(read([0.1475, 0.2250]))[0] == (5, "control_required")


def test_a_control_pin_where_no_sleeve_is_is_in_doubt() -> None:
    stacks = ordinary(top=1)
    stacks[2] |= {"control": 4}
    doubt = only(read_stacks(FIXED, stacks).doubts)
    assert (doubt.position, doubt.what) == (3, "control_not_used")
    assert doubt.alternatives[0] == PinStack(3, 3, (), None, 1)


def test_a_driver_that_is_not_the_tables_is_in_doubt() -> None:
    assert {what for _, what in whats(read_stacks(FIXED, ordinary(top=2)))} == {"driver"}


def test_a_position_without_pins_is_no_doubt() -> None:
    reading = read([])
    assert (whats(reading), reading.operating[4]) == ([], A2.depth_values)
    assert reading.accepts == 16 * 10
    assert reading.open_control == ()


def test_outside_the_sleeve_the_control_key_stays_open() -> None:
    core = pin(LARGE, ["523456", "323456"], "525656")
    reading = read_stacks(LARGE, core)
    assert reading.doubts == ()
    open_one = only(reading.open_control)
    assert (open_one.position, open_one.what, open_one.alternatives) == (1, "control_open", ("3", "5"))
    assert reading.control is not None
    assert reading.control.text == "325656"


def test_stacks_are_read_from_json_or_from_a_core() -> None:
    stacks = [{"position": n, "bottom": 3, "masters": [2], "control": 12, "top": 6} for n in range(1, 6)]
    assert read_stacks(A2, stacks) == read_stacks(A2, parse_stacks(A2, stacks))


def test_all_wrong_measurements_come_at_once() -> None:
    with pytest.raises(Refused) as refused:
        read_stacks(A2, measured_in=[GOOD, [0.1], [], "x", [0.1, -2]], tolerance_in=None)
    found = [(reason.code, reason.position) for reason in refused.value.refusals]
    assert found == [("value", 2), ("type", 4), ("value", 5), ("value", None)]


def test_a_doubt_does_not_show_cuts_by_accident() -> None:
    shown = repr(read([0.1725, 0.0250, 0.1750, 0.0250]))
    assert "alternatives" not in shown
    assert "(3, 5)" not in shown


def test_a_new_key_is_read_as_it_was_cut() -> None:
    reading = read_key(A2, ROOTS)
    assert (reading.bitting and reading.bitting.text, reading.doubts) == ("36149", ())


def test_a_worn_key_is_read_as_it_was_cut() -> None:
    reading = read_key(A2, [depth - 0.006 for depth in ROOTS])
    assert (reading.bitting and reading.bitting.text, reading.doubts) == ("36149", ())


def test_a_cut_worn_more_than_half_way_may_be_the_next() -> None:
    reading = read_key(A2, [ROOTS[0] - 0.008, *ROOTS[1:]])
    assert (reading.bitting and reading.bitting.text) == "36149"
    assert (whats(reading), only(reading.doubts).alternatives) == ([(1, "worn")], ("3", "4"))


def test_a_cut_is_never_read_deeper_than_it_measures() -> None:
    """Depth 4 leaves .268: what is .003 shallower is no 4, with a tolerance of .002, but a worn 3."""
    reading = read_key(A2, [0.271, *ROOTS[1:]])
    assert reading.bitting is not None
    assert reading.bitting.cuts[0] == 3


def test_a_cut_within_the_tolerance_of_two_depths_is_in_doubt() -> None:
    reading = read_key(A2, [0.2743, *ROOTS[1:]], 0.0065)
    assert only(reading.doubts).alternatives == ("3", "4")
    assert whats(reading) == [(1, "between_sizes")]


@pytest.mark.parametrize(("depth", "what"), [(0.330, "shallow"), (0.190, "deep")])
def test_what_is_no_depth_makes_no_bitting(depth: float, what: str) -> None:
    reading = read_key(A2, [*ROOTS[:4], depth])
    assert (reading.bitting, whats(reading)) == (None, [(5, what)])


def test_cuts_too_far_apart_are_measured_again() -> None:
    roots = [FIXED.root_depth_in(cut) for cut in (1, 1, 9, 5, 5, 5)]
    assert whats(read_key(FIXED, roots)) == [(3, "macs")]
