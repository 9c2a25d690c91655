"""Every construction: its figures, its pins worked by hand, and the cases that shops get wrong."""

from typing import Any

import pytest

from pinning import (
    CoreFormat,
    Refused,
    control_label,
    decode,
    load,
    load_all,
    parse_any_bitting,
    parse_bitting,
    parse_format,
    pin,
    to_mapping,
    turn,
)
from tests.pinning.published import entries, figures

LARGE = load("large-sleeve-34")
WIDE = load("large-sleeve-2345")
TIP = load("full-tip-6")
PADLOCK = load("padlock-screw-6")
A2 = load("small-a2-6")
PUBLISHED = figures("constructions")


def effects(core: Any, text: str, blank: str = "operating") -> tuple[bool, bool]:
    found = turn(core, parse_any_bitting(core.format, text), blank)
    return found.operates, found.withdraws


def codes(call: Any, *arguments: Any) -> list[str]:
    with pytest.raises(Refused) as refused:
        call(*arguments)
    return [reason.code for reason in refused.value.refusals]


@pytest.mark.parametrize("case", PUBLISHED["construction"], ids=lambda case: case["id"])
def test_a_construction_has_the_figures_written_down(case: dict[str, Any]) -> None:
    format = load(case["id"])
    assert (format.construction, format.positions) == (case["construction"], 6)
    assert (format.sleeve, format.addition) == (tuple(case["sleeve"]), case["addition"])
    assert (format.total.plain, format.total.sleeve) == (case["plain_total"], case.get("sleeve_total"))


def test_a_shop_that_counts_from_the_sleeve_writes_signs() -> None:
    case = PUBLISHED["relative"]
    assert [control_label(load(case["format"]), size) for size in case["sizes"]] == case["labels"]


@pytest.mark.parametrize("case", PUBLISHED["stack"], ids=lambda case: f"{case['format']} {case['position']}")
def test_pins_are_those_worked_by_hand(case: dict[str, Any]) -> None:
    format = load(case["format"])
    keys = [str(cut) * format.positions for cut in case["operating"]]
    control = "".join(
        str(case["control"] if place in format.sleeve else case["operating"][0])
        for place in range(1, format.positions + 1)
    )
    core = pin(format, keys, control if format.sleeve else None)
    assert [size for _, size in core.stacks[case["position"] - 1].pins] == case["pins"]


@pytest.mark.parametrize("format", load_all(), ids=lambda format: format.id)
def test_root_depth_and_bottom_pin_make_the_plug(format: CoreFormat) -> None:
    for cut in format.depth_values:
        root = format.root_depth_in(cut)
        assert root is not None
        assert root + format.length_in(cut) == pytest.approx(format.plug_diameter_in)


@pytest.mark.parametrize("format", load_all(), ids=lambda format: format.id)
def test_a_key_keeps_metal_under_its_deepest_cut_and_its_cuts_fit_the_blade(format: CoreFormat) -> None:
    assert (format.root_depth_in(format.depth_values[-1]) or 0) > 0.15
    assert (format.first_cut_in, format.spacing_in) in {(0.08, 0.15), (0.231, 0.156)}


def test_two_conventions_give_drivers_of_their_own() -> None:
    tops = [pin(load(name), ["333333"], None).stacks[0].top for name in ("fixed-6", "fixed-6-total")]
    assert tops == [1, 7]


def test_every_published_construction_names_its_source() -> None:
    for name in ("construction", "stack"):
        assert all(entry["source"] for entry in entries("constructions", name))
    assert PUBLISHED["relative"]["source"]
    assert PUBLISHED["depth_table"]["source"]


def test_several_masters_stand_in_one_position() -> None:
    core = pin(A2, ["111111", "311111", "511111", "911111"], "222222")
    assert core.stacks[0].pins == (
        ("bottom", 1), ("master", 2), ("master", 2), ("master", 4), ("control", 3), ("top", 11),
    )  # fmt: skip
    assert core.accepts == 4


def test_a_cut_held_constant_has_no_master_pin() -> None:
    core = pin(LARGE, ["521345", "541345", "561345"], "525645")
    assert [stack.masters for stack in core.stacks] == [(), (2, 2), (), (), (), ()]
    assert core.accepts == 3


def test_a_control_cut_may_equal_an_operating_cut_in_some_positions() -> None:
    core = pin(A2, ["361492"], "361493")
    assert core.stacks[0].control == A2.addition
    assert (effects(core, "361492"), effects(core, "361493")) == ((True, False), (False, True))


def test_it_refuses_a_control_key_that_is_an_operating_key() -> None:
    assert codes(pin, A2, ["361492", "361472"], "361492") == ["control_shared"]


def test_it_refuses_a_key_that_would_clear_both_lines_of_a_thin_sleeve() -> None:
    """K is 6 and depths reach 9: under the sleeve cuts 1 and 7 of two keys lie just as far apart."""
    assert codes(pin, LARGE, ["521145", "527745"], "523345") == ["control_shared"]


def test_one_position_that_tells_the_lines_apart_is_enough() -> None:
    core = pin(LARGE, ["521145", "527545"], "523345")
    assert effects(core, "521145") == (True, False)
    assert effects(core, "523345") == (False, True)


def test_the_key_that_would_clear_both_lines_is_named() -> None:
    with pytest.raises(Refused, match="operating key 2 would also withdraw"):
        pin(LARGE, ["527745", "521145"], "523345")


def test_outside_the_sleeve_the_control_key_carries_an_operating_cut() -> None:
    core = pin(LARGE, ["521345", "543345"], "545645")
    assert [stack.control for stack in core.stacks] == [None, None, 8, 9, None, None]
    assert effects(core, "545645") == (False, True)
    assert effects(core, "565645") == (False, False)


def test_a_sleeve_over_four_positions_leaves_the_ends_plain() -> None:
    core = pin(WIDE, ["523456"], "534566")
    assert [stack.control is None for stack in core.stacks] == [True, False, False, False, False, True]
    assert [stack.total for stack in core.stacks] == [10, 13, 13, 13, 13, 10]
    assert {effects(core, "534566")} == {(False, True)}


def test_a_position_left_empty_takes_any_cut_and_has_no_pins() -> None:
    core = pin(LARGE, ["52345-"], "52565-")
    assert core.stacks[5].is_empty
    assert core.stacks[5].total == 0
    assert core.accepts == 10
    assert all(effects(core, f"52345{depth}") == (True, False) for depth in LARGE.depths)
    assert effects(core, "525650") == (False, True)


def test_an_empty_position_under_the_sleeve_clears_the_control_line_too() -> None:
    core = pin(LARGE, ["52-345"], "52-545")
    assert (effects(core, "529345"), effects(core, "520545")) == ((True, False), (False, True))


def test_a_sleeve_without_any_pins_under_it_is_refused() -> None:
    assert codes(pin, LARGE, ["52--45"], "52--45") == ["control_shared"]


@pytest.mark.parametrize(
    ("keys", "control"), [(["52345-", "523456"], "52565-"), (["52345-"], "525656"), (["523456"], "52565-")]
)
def test_it_refuses_a_position_left_empty_in_some_keys_only(keys: list[str], control: str) -> None:
    assert codes(pin, LARGE, keys, control) == ["empty_position"]


def test_it_refuses_to_leave_every_position_empty() -> None:
    assert codes(pin, PADLOCK, ["------"], None) == ["empty_position"]


def test_a_cut_is_missing_in_a_key_that_is_to_be_cut() -> None:
    assert codes(parse_bitting, LARGE, "52345-") == ["depth"]


def test_an_empty_position_decodes_to_every_depth() -> None:
    decoded = decode(pin(LARGE, ["52345-"], "52565-"))
    assert decoded.operating[5] == LARGE.depth_values
    assert decoded.control is not None
    assert decoded.control.text == "525650"


def ten_depths() -> CoreFormat:
    """Depths 1 to 10, the tenth written 0: common practice, no source."""
    figures = {"depths": "1234567890", "depth_values": list(range(1, 11)), "total": {"plain": 12}}
    pins = to_mapping(PADLOCK)["pins"] | {"bottom": list(range(1, 11)), "top": list(range(2, 12))}
    return parse_format(to_mapping(PADLOCK) | figures | {"pins": pins})


def test_where_nought_means_ten_it_is_the_deepest_cut() -> None:
    core = pin(ten_depths(), ["406824", "806824"], None)
    assert core.stacks[0].pins == (("bottom", 4), ("master", 4), ("top", 4))
    assert core.stacks[1].pins == (("bottom", 10), ("top", 2))


def test_where_nought_means_ten_the_limit_of_adjacent_cuts_knows_it() -> None:
    assert parse_bitting(ten_depths(), "905050").cuts == (9, 10, 5, 10, 5, 10)
    assert codes(parse_bitting, ten_depths(), "105050") == ["macs"]


def test_where_nought_means_ten_keys_turn_and_decode_by_their_symbols() -> None:
    core = pin(ten_depths(), ["406824"], None)
    assert effects(core, "406824") == (True, False)
    assert effects(core, "496824") == (False, False)
    assert decode(core).operating[1] == (10,)


def test_the_same_key_read_bow_to_tip_is_pinned_in_the_order_it_is_read() -> None:
    mapping = to_mapping(A2) | {"order": "bow-tip"}
    cores = [pin(format, ["361492"], "743810") for format in (A2, parse_format(mapping))]
    assert cores[0].stacks == cores[1].stacks
    assert [stack.bottom for stack in cores[1].stacks] == [3, 6, 1, 4, 9, 2]


def test_any_operating_bitting_on_the_control_blank_withdraws_a_tip_operated_core() -> None:
    core = pin(TIP, ["524356", "524358"], None)
    assert effects(core, "524358") == (True, False)
    assert effects(core, "524358", "control") == (True, True)
    assert effects(core, "524354", "control") == (False, False)


@pytest.mark.parametrize("format_id", ["large-sleeve-34", "padlock-screw-6", "fixed-6"])
def test_it_refuses_a_control_blank_where_there_is_none(format_id: str) -> None:
    format = load(format_id)
    core = pin(format, ["524356"], "524556" if format.sleeve else None)
    assert codes(turn, core, parse_bitting(format, "524356"), "control") == ["blank_not_used"]


def test_it_refuses_an_unknown_blank() -> None:
    assert codes(turn, pin(TIP, ["524356"], None), parse_bitting(TIP, "524356"), "gold") == ["value"]


def test_a_padlock_opens_first_and_then_gives_its_screw_away() -> None:
    core = pin(PADLOCK, ["524356"], None)
    found = turn(core, parse_bitting(PADLOCK, "524356"))
    assert (found.operates, found.withdraws) == (True, False)
    assert ["shackle" in found.steps[0], "screw" in found.steps[1], "core" in found.steps[2]] == [True] * 3
    assert turn(core, parse_bitting(PADLOCK, "524358")).steps == ()
