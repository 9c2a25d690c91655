"""The picture of a pinned core, checked against a stack worked out by hand.

The format is A2 (Locksmith Ledger 10705790; total 23: Keynotes 2024-10 p.55; addition 10: trade manuals).
Position 1 has operating cuts 3 and 5 and control cut 7. By hand: bottom 3, master 5 - 3 = 2,
control 7 + 10 - 5 = 12, top 23 - 10 - 7 = 6.
"""

from dataclasses import replace
from xml.etree import ElementTree

import pytest
from django.template.loader import render_to_string

from keyctl import engine
from keyctl.cores.drawing import Drawing, Pin, draw

INCREMENT = 12  # .0125 inch at 960 pixels an inch
BASE = 106  # .110 inch, the lowest bottom pin


def drawn(format_id: str = "small-a2-6", control: str | None = "743810") -> Drawing:
    pinned = engine.pin(format_id, ["361492", "529674"], control)
    return draw(pinned, name="one", title="Core")


def pins(drawing: Drawing, position: int = 1) -> dict[str, Pin]:
    return {pin.role: pin for pin in drawing.columns[position - 1].pins}


def test_it_labels_the_pins_of_the_hand_worked_stack() -> None:
    labels = {role: pin.label for role, pin in pins(drawn()).items()}
    assert labels == {"bottom": "3", "master": "2", "control": "12", "top": "6"}


def test_heights_are_the_sizes_in_increments() -> None:
    heights = {role: pin.height for role, pin in pins(drawn()).items()}
    assert heights == {
        "bottom": BASE + 3 * INCREMENT,
        "master": 2 * INCREMENT,
        "control": 12 * INCREMENT,
        "top": 6 * INCREMENT,
    }


def test_every_stack_adds_up_to_the_total_of_the_format() -> None:
    heights = {sum(pin.height for pin in column.pins) for column in drawn().columns}
    assert heights == {BASE + 23 * INCREMENT}


def test_the_pins_of_a_stack_touch_and_do_not_overlap() -> None:
    for column in drawn().columns:
        for lower, upper in zip(column.pins, column.pins[1:], strict=False):
            assert upper.y + upper.height == lower.y


def test_the_plugs_pins_end_at_the_operating_line_in_every_position() -> None:
    drawing = drawn()
    assert {column.pins[-2].y + column.pins[-2].height for column in drawing.columns} == {drawing.operating.y}


def test_the_control_line_lies_above_the_operating_line_by_the_sleeves_thickness() -> None:
    drawing = drawn()
    assert [drawing.operating.y - line.y for line in drawing.control] == [10 * INCREMENT]


def test_the_control_pin_ends_above_the_control_line_by_the_control_cut_less_the_deepest_cut() -> None:
    drawing = drawn()
    assert drawing.control[0].y - pins(drawing)["control"].y == (7 - 5) * INCREMENT


def test_the_control_line_covers_only_the_positions_under_the_sleeve() -> None:
    plain = engine.load_format("small-a2-6")
    assert plain.control
    middle = replace(plain, control=replace(plain.control, positions=(3, 4)))
    pinned = replace(engine.pin("small-a2-6", ["361492"], "743810"), format=middle)
    drawing = draw(pinned, name="one", title="Core")
    third, fourth = drawing.columns[2], drawing.columns[3]
    assert len(drawing.control) == 1
    assert drawing.control[0].x1 <= third.x
    assert drawing.columns[1].x + drawing.columns[1].width <= drawing.control[0].x1
    assert fourth.x + fourth.width <= drawing.control[0].x2 <= drawing.columns[4].x


def test_a_cylinder_without_a_sleeve_has_no_control_line_and_no_control_pin() -> None:
    drawing = drawn("fixed-6", None)
    assert drawing.control == ()
    assert {swatch.role for swatch in drawing.legend} == {"bottom", "master", "top"}


def test_drivers_by_table_stand_on_the_operating_line_and_are_not_to_scale() -> None:
    drawing = drawn("fixed-6", None)
    tops = [column.pins[-1] for column in drawing.columns]
    assert drawing.has_kit_numbers
    assert {pin.y + pin.height for pin in tops} == {drawing.operating.y}
    assert len({pin.height for pin in tops}) == 1
    assert len({pin.label for pin in tops}) > 1


@pytest.mark.parametrize(("format_id", "ends"), [("small-a2-6", ("tip", "bow")), ("fixed-6", ("bow", "tip"))])
def test_it_says_which_end_is_the_tip(format_id: str, ends: tuple[str, str]) -> None:
    drawing = drawn(format_id, "743810" if format_id == "small-a2-6" else None)
    assert (drawing.first_end, drawing.last_end) == ends


def test_a_shop_that_counts_from_the_sleeve_reads_control_pins_so() -> None:
    plain = engine.load_format("small-a2-6")
    assert plain.control
    relative = replace(plain, control=replace(plain.control, numbering="relative"))
    pinned = replace(engine.pin("small-a2-6", ["361492", "529674"], "743810"), format=relative)
    assert pins(draw(pinned, name="one", title="Core"))["control"].label == "+2"


def test_no_label_stands_on_a_line() -> None:
    drawing = drawn()
    lines = {drawing.operating.y, drawing.control[0].y}
    for pin in (pin for column in drawing.columns for pin in column.pins):
        assert pin.y <= pin.blank.y
        assert pin.blank.y + pin.blank.height <= pin.y + pin.height
        assert not any(pin.blank.y < line < pin.blank.y + pin.blank.height for line in lines)


def test_everything_lies_inside_the_picture() -> None:
    for drawing in (drawn(), drawn("fixed-6", None)):
        for column in drawing.columns:
            assert column.ceiling <= column.pins[-1].y
            assert column.pins[0].y + column.pins[0].height <= column.floor < drawing.height
            assert column.x + column.width <= drawing.width


def test_the_picture_is_sound_xml_with_a_title_and_ids_of_its_own() -> None:
    root = ElementTree.fromstring(render_to_string("cores/_drawing.svg.html", {"drawing": drawn()}))  # noqa: S314
    ids = [element.get("id", "") for element in root.iter() if element.get("id")]
    title = next(root.iter("title"))
    assert title.text == "Core"
    assert len(ids) == len(set(ids))
    assert all(name.startswith("one-") for name in ids)


def test_the_picture_writes_every_size_beside_the_sign_of_its_role() -> None:
    root = ElementTree.fromstring(render_to_string("cores/_drawing.svg.html", {"drawing": drawn()}))  # noqa: S314
    words = ["".join(text.itertext()) for text in root.iter("text")]
    assert [word for word in words if word[1:].isdigit()][:4] == ["B3", "M2", "C12", "T6"]
