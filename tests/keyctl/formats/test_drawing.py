"""The picture of a format: to scale, both lines, the sleeve, and labels that keep clear of one another."""

from itertools import pairwise

import pytest

from keyctl import engine
from keyctl.formats.drawing import LABEL_HEIGHT, FormatDrawing, draw_format
from tests.keyctl.formats.shop import TEN_IS_NOUGHT, built_in

EVERY = [format_id for format_id, _ in engine.format_names()]


def drawn(format_id: str) -> FormatDrawing:
    return draw_format(engine.load_format(format_id), name="test", title="A test")


def test_the_control_line_lies_the_sleeves_thickness_above_the_operating_line() -> None:
    """A2: ten increments of .0125 in are .125 in, 120 px at 960 px to the inch."""
    drawing = drawn("small-a2-7")
    assert drawing.sleeve_height == 120
    assert [(run.is_sleeved, run.total) for run in drawing.runs] == [(True, "T 23")]


def test_shallowest_and_deepest_cut_are_the_range_of_depths_apart() -> None:
    """A2: nine increments of .0125 in are .1125 in, 108 px."""
    chamber = drawn("small-a2-7").chambers[0]
    assert chamber.deepest.foot - chamber.shallowest.foot == 108
    assert chamber.deepest.top - chamber.shallowest.top == 108


def test_a_sleeve_over_two_positions_is_marked_there_only() -> None:
    drawing = draw_format(engine.parse_format(TEN_IS_NOUGHT), name="test", title="A test")
    assert [(run.is_sleeved, run.total) for run in drawing.runs] == [
        (False, "T 12"),
        (True, "T 24"),
        (False, "T 12"),
    ]
    (sleeve,) = drawing.sleeves
    covered = [each.position for each in drawing.chambers if sleeve.x1 <= each.x < sleeve.x2]
    assert covered == [2, 3]


def test_drivers_of_a_table_are_said_to_be_out_of_scale() -> None:
    drawing = drawn("fixed-6")
    assert drawing.has_kit_numbers
    assert (drawing.control, [run.total for run in drawing.runs]) == (None, ["table"])


@pytest.mark.parametrize("format_id", EVERY)
def test_nothing_leaves_the_picture(format_id: str) -> None:
    drawing = drawn(format_id)
    for half in (half for chamber in drawing.chambers for half in chamber.halves):
        assert 0 < half.top <= half.joint < half.foot <= drawing.floor < drawing.height
    assert drawing.chambers[-1].x + drawing.chambers[-1].width < drawing.width


@pytest.mark.parametrize("increment", [0.002, 0.0125, 0.1])
def test_labels_keep_clear_of_one_another_at_any_increment(increment: float) -> None:
    figures = built_in("small-a2-7", increment_in=increment, plug_diameter_in=None)
    rungs = draw_format(engine.parse_format(figures), name="test", title="A test").rungs
    labelled = [rung.y for rung in rungs if rung.label]
    assert all(lower - upper >= LABEL_HEIGHT - 1 for upper, lower in pairwise(labelled))
    assert len(rungs) == 10
