"""What is refused, in what words, and that all reasons come at once."""

from dataclasses import replace
from typing import Any

import pytest

from pinning import (
    CoreFormat,
    Refusal,
    Refused,
    bitting_of,
    load,
    parse_any_bitting,
    parse_bitting,
    parse_format,
    parse_stacks,
    pin,
    to_mapping,
    turn,
)

A2 = load("small-a2-6")
FIXED = load("fixed-6")


def reasons(call: Any, *arguments: Any) -> list[tuple[str, int | None]]:
    with pytest.raises(Refused) as refused:
        call(*arguments)
    return [(reason.code, reason.position) for reason in refused.value.refusals]


def middle_sleeve() -> CoreFormat:
    """A sleeve over positions 3 and 4 of six; figures invented."""
    part = {"kind": "sleeve", "positions": [3, 4], "addition": 10}
    pins = to_mapping(A2)["pins"]
    return parse_format(
        to_mapping(FIXED)
        | {"control": part, "drivers": None, "total": {"plain": 12, "sleeve": 23}, "pins": pins}
    )


def test_it_refuses_a_key_of_the_wrong_length() -> None:
    assert reasons(parse_bitting, A2, "12345") == [("length", None)]


def test_it_refuses_every_unknown_depth_with_its_position() -> None:
    assert reasons(parse_bitting, A2, "1x3y56") == [("depth", 2), ("depth", 4)]


def test_it_refuses_cuts_too_far_apart_and_names_both_positions() -> None:
    with pytest.raises(Refused, match="positions 2 and 3") as refused:
        parse_bitting(FIXED, "119111")
    assert [(reason.code, reason.position) for reason in refused.value.refusals] == [
        ("macs", 3),
        ("macs", 4),
    ]


def test_a_key_that_breaks_the_limit_can_still_be_tried() -> None:
    assert parse_any_bitting(FIXED, "119111").cuts == (1, 1, 9, 1, 1, 1)


def test_all_reasons_over_all_keys_and_positions_come_at_once() -> None:
    found = reasons(pin, FIXED, ["11911", "1x1111", "119111", "222222"], "111111")
    assert set(found) == {
        ("length", None),
        ("macs", 3),
        ("macs", 4),
        ("depth", 2),
        ("control_not_used", None),
        *(("parity", position) for position in range(1, 7)),
    }


def test_every_message_says_where_and_what_to_do() -> None:
    with pytest.raises(Refused) as refused:
        pin(A2, ["361492", "361493"], "000000")
    for reason in refused.value.refusals:
        assert str(reason.position or "") in reason.message
        assert ";" in reason.message


def test_it_refuses_a_core_without_keys() -> None:
    assert reasons(pin, A2, [], "743810") == [("no_keys", None)]


def test_it_refuses_to_leave_out_the_control_key_of_a_sleeve() -> None:
    assert reasons(pin, A2, ["361492"], None) == [("control_required", None)]


@pytest.mark.parametrize("control", [None, {"kind": "tip"}, {"kind": "screw"}])
def test_it_refuses_a_control_key_where_no_sleeve_is(control: dict[str, str] | None) -> None:
    format = parse_format(to_mapping(FIXED) | {"control": control})
    assert reasons(pin, format, ["333333"], "555555") == [("control_not_used", None)]


@pytest.mark.parametrize("control", [{"kind": "tip"}, {"kind": "screw"}])
def test_a_core_without_a_sleeve_is_pinned_like_an_ordinary_one(control: dict[str, str]) -> None:
    format = parse_format(to_mapping(FIXED) | {"control": control})
    core = pin(format, ["333333", "555555"], None)
    assert core.stacks == pin(FIXED, ["333333", "555555"], None).stacks
    assert not turn(core, parse_bitting(format, "333333")).withdraws


def test_operating_cuts_of_a_position_must_be_of_one_series() -> None:
    assert reasons(pin, A2, ["361492", "391492", "361495"], "743810") == [("parity", 2), ("parity", 6)]


def test_the_control_cut_may_be_of_the_other_series() -> None:
    assert pin(A2, ["222222"], "333333").accepts == 1


def test_outside_the_sleeve_the_control_key_needs_an_operating_cut() -> None:
    assert reasons(pin, middle_sleeve(), ["123456"], "225055") == [("control_cut", 1), ("control_cut", 6)]


def test_outside_the_sleeve_there_is_no_control_pin() -> None:
    core = pin(middle_sleeve(), ["123456"], "125056")
    assert [stack.control for stack in core.stacks] == [None, None, 12, 6, None, None]
    assert [stack.total for stack in core.stacks] == [12, 12, 23, 23, 12, 12]


def test_a_driver_table_with_a_gap_refuses_the_plug_total() -> None:
    short = replace(FIXED, drivers=FIXED.drivers[:2] if FIXED.drivers else None)
    assert reasons(pin, short, ["373737"], None) == [("unbuildable", position) for position in (2, 4, 6)]


def test_a_refusal_survives_being_sent_to_another_process() -> None:
    import pickle

    refused = Refused([Refusal("length", "Too short; add a cut.")])
    again = pickle.loads(pickle.dumps(refused))  # noqa: S301 - our own bytes
    assert again.refusals == refused.refusals


def test_a_bitting_does_not_show_its_cuts_by_accident() -> None:
    key = parse_bitting(A2, "361492")
    assert "361492" not in repr(key)
    assert "3" not in repr(key)


def test_cuts_that_are_no_depths_make_no_bitting() -> None:
    assert reasons(bitting_of, A2, [1, 2, 3, 4, 55]) == [("depth", 5), ("length", None)]


def test_a_key_of_another_length_is_not_tried() -> None:
    core = pin(load("small-a2-5"), ["36149"], "74381")
    assert reasons(turn, core, parse_bitting(A2, "361492")) == [("length", None)]


def stacks(**changes: Any) -> list[dict[str, Any]]:
    ordinary = {"bottom": 3, "masters": [2], "control": None, "top": 2, "total": 7}
    listed = [ordinary | {"position": position} for position in range(1, 7)]
    listed[2] |= changes
    return listed


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"total": 8}, "total"),
        ({"position": 7}, "value"),
        ({"position": 1}, "positions"),
        ({"bottom": -1}, "value"),
        ({"bottom": 1.5}, "type"),
        ({"bottom": True}, "type"),
        ({"top": None}, "missing"),
        ({"masters": 2}, "type"),
        ({"masters": [2, "2"]}, "value"),
        ({"spring": 1}, "unknown_field"),
    ],
)
def test_it_refuses_stacks_that_cannot_be_read(changes: dict[str, Any], code: str) -> None:
    assert code in {found for found, _ in reasons(parse_stacks, FIXED, stacks(**changes))}


@pytest.mark.parametrize("wrong", [None, 3, "stacks", {}, [], [None], ["x"], stacks()[:5]])
def test_it_refuses_what_is_no_list_of_stacks(wrong: object) -> None:
    assert reasons(parse_stacks, FIXED, wrong)
