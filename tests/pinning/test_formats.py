"""Formats: the ones that come along, and those a shop hands in."""

from typing import Any

import pytest

from pinning import Refused, control_label, load, load_all, parse_bitting, parse_format, pin, to_mapping

OTHERS = ["full-tip-6", "large-sleeve-34", "large-sleeve-2345", "padlock-screw-6"]
IDS = [
    "fixed-6",
    "fixed-6-total",
    *OTHERS,
    *(f"small-a{system}-{count}" for system in (2, 3, 4) for count in (5, 6, 7)),
]
PLAIN = to_mapping(load("fixed-6"))
KIT = to_mapping(load("small-a2-6"))["pins"]
SLEEVE = {"kind": "sleeve", "positions": [1, 2], "addition": 6, "numbering": "absolute"}


def codes(mapping: object) -> list[str]:
    with pytest.raises(Refused) as refused:
        parse_format(mapping)  # type: ignore[arg-type]
    return [reason.code for reason in refused.value.refusals]


def test_every_format_that_comes_along_is_there() -> None:
    assert {*IDS} <= {format.id for format in load_all()}


@pytest.mark.parametrize("format_id", IDS)
def test_a_format_is_printed_as_it_can_be_handed_in(format_id: str) -> None:
    assert parse_format(to_mapping(load(format_id))) == load(format_id)


def test_an_unknown_format_is_refused_with_the_known_ones() -> None:
    with pytest.raises(Refused, match="small-a2-6"):
        load("small-a9-6")


def test_a_shop_may_count_depths_from_one() -> None:
    format = parse_format(PLAIN | {"depths": "123456", "depth_values": [1, 2, 3, 4, 5, 6]})
    assert parse_bitting(format, "123456").cuts == (1, 2, 3, 4, 5, 6)
    assert format.length_in(1) == format.base_pin_in
    assert pin(format, ["111111"], None).stacks[0].bottom == 1


def test_depths_are_numbered_from_nought_if_nothing_else_is_said() -> None:
    without = {name: value for name, value in PLAIN.items() if name != "depth_values"}
    assert parse_format(without | {"depths": "ABC"}).depth_values == (0, 1, 2)


def test_lengths_for_drawing_a_key_may_be_unknown() -> None:
    unknown = {"first_cut_in": None, "spacing_in": None, "plug_diameter_in": None}
    without = {name: value for name, value in PLAIN.items() if name not in unknown}
    assert parse_format(without) == parse_format(PLAIN | unknown)
    assert parse_format(without).root_depth_in(3) is None
    assert to_mapping(parse_format(without)) == PLAIN | unknown


def test_a_relative_shop_writes_the_control_pin_from_the_sleeve() -> None:
    """Numbering by '+0, +1, -1': common practice, no source."""
    mapping = to_mapping(load("small-a2-6"))
    relative = parse_format(mapping | {"control": mapping["control"] | {"numbering": "relative"}})
    assert [control_label(relative, size) for size in (10, 12, 9)] == ["+0", "+2", "-1"]


WRONG: list[tuple[dict[str, Any], str]] = [
    ({"positions": 0}, "value"),
    ({"positions": "6"}, "type"),
    ({"positions": True}, "type"),
    ({"depths": ""}, "value"),
    ({"depths": "0012"}, "value"),
    ({"depths": 10}, "type"),
    ({"depth_values": [1, 2]}, "value"),
    ({"depth_values": [9, 8, 7, 6, 5, 4, 3, 2, 1, 0]}, "value"),
    ({"depth_values": [0, 1, 2, 3, 4, 5, 6, 7, 8, 8]}, "value"),
    ({"depth_values": {}}, "type"),
    ({"increment_in": 0}, "value"),
    ({"increment_in": "0.015"}, "value"),
    ({"base_pin_in": float("inf")}, "value"),
    ({"base_pin_in": float("nan")}, "value"),
    ({"step": 0}, "value"),
    ({"step": None}, "missing"),
    ({"macs": -1}, "value"),
    ({"order": "sideways"}, "value"),
    ({"order": ["tip-bow"]}, "value"),
    ({"control": "sleeve"}, "type"),
    ({"control": {"kind": "magnet"}}, "value"),
    ({"control": {"kind": "tip", "addition": 3}}, "unknown_field"),
    ({"control": SLEEVE, "total": {"sleeve": 23}}, "missing"),
    ({"control": SLEEVE | {"positions": []}, "total": {"sleeve": 23}}, "value"),
    ({"control": SLEEVE | {"positions": [1, 1]}, "total": {"sleeve": 23}}, "value"),
    ({"control": SLEEVE | {"positions": [7]}, "total": {"sleeve": 23}, "pins": KIT}, "value"),
    ({"control": SLEEVE | {"addition": 0}, "total": {"sleeve": 23}}, "value"),
    ({"control": SLEEVE | {"numbering": "roman"}, "total": {"sleeve": 23}}, "value"),
    ({"control": SLEEVE, "total": None, "pins": KIT}, "missing"),
    ({"drivers": None}, "missing"),
    ({"drivers": []}, "value"),
    ({"total": {"plain": 12}}, "value"),
    ({"drivers": [{"from": 5, "to": 2, "pin": 1}]}, "value"),
    ({"drivers": [{"from": 0, "to": 5, "pin": 1}, {"from": 5, "to": 9, "pin": 2}]}, "value"),
    ({"drivers": [{"from": 0, "to": 5}]}, "missing"),
    ({"drivers": [5]}, "type"),
    ({"drivers": {}}, "type"),
    ({"pins": None}, "missing"),
    ({"pins": []}, "type"),
    ({"pins": {"bottom": [0], "master": [1]}}, "missing"),
    ({"pins": {"bottom": [0], "master": [1], "top": [1000]}}, "value"),
    ({"pins": {"bottom": [0], "master": [1], "top": "1-3"}}, "type"),
    ({"colour": "red"}, "unknown_field"),
    ({"depths": "012345678-"}, "value"),
    ({"first_cut_in": 0}, "value"),
    ({"spacing_in": "0.15"}, "value"),
    ({"plug_diameter_in": 10}, "value"),
    ({"plug_diameter_in": 0.3}, "value"),
    ({"name": "a\nb"}, "value"),
    ({"id": "x" * 41}, "value"),
]


@pytest.mark.parametrize(("changes", "code"), WRONG)
def test_it_refuses_a_wrong_parameter(changes: dict[str, Any], code: str) -> None:
    assert codes(PLAIN | changes) == [code]


@pytest.mark.parametrize("wrong", [None, 5, "small-a2-6", []])
def test_it_refuses_what_is_no_object(wrong: object) -> None:
    assert codes(wrong) == ["type"]


def test_all_wrong_parameters_come_at_once() -> None:
    wrong = PLAIN | {"positions": 99, "order": None, "macs": "7", "extra": 1}
    assert sorted(codes(wrong)) == ["missing", "type", "unknown_field", "value"]


def test_an_empty_object_lacks_every_parameter_that_has_no_default() -> None:
    assert codes({}).count("missing") == len(codes({})) >= 7


def test_a_wrong_part_brings_no_second_refusal_in_its_wake() -> None:
    assert codes(PLAIN | {"control": {"kind": "sleeve", "addition": 6}, "drivers": None}) == ["missing"]
