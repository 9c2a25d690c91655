"""The picture of a key, checked against figures worked out by hand.

A2 (increment .0125: Locksmith Ledger 10705790; depth 0 leaves .318 of the blade, first cut .080 from the
tip, spacing .150: from memory). By hand, cut 3 leaves .318 - 3 x .0125 = .2805 and the sixth cut stands
.080 + 5 x .150 = .830 from the tip. The ordinary cylinder (from memory): .231 from the shoulder, spacing
.156, so its sixth cut stands at 1.011; cut 2 leaves .500 - .165 - 2 x .015 = .305.
"""

from dataclasses import replace
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import pytest
from django.template.loader import render_to_string

from keyctl import engine
from keyctl.accounts.speaking import speaking
from keyctl.keys.drawing import PIXELS_PER_INCH, Drawing, KeyView, view_key

A2, A2_BITTING = "small-a2-6", "361492"
FIXED, FIXED_BITTING = "fixed-6", "246213"
FIGURES = ["first_cut_in", "spacing_in", "plug_diameter_in"]


def viewed(format_id: str = A2, bitting: str = A2_BITTING) -> KeyView:
    return view_key(format_id, bitting, name="one", title="Key")


def drawn(format_id: str = A2, bitting: str = A2_BITTING) -> Drawing:
    drawing = viewed(format_id, bitting).drawing
    assert drawing is not None
    return drawing


def root(drawing: Drawing) -> ElementTree.Element:
    return ElementTree.fromstring(render_to_string("keys/_key.svg.html", {"drawing": drawing}))  # noqa: S314


@pytest.fixture
def without(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The A2 format as if a shop had left figures out."""

    def leave_out(*figures: str) -> None:
        gone: dict[str, Any] = dict.fromkeys(figures)
        bare = replace(engine.load_format(A2), **gone)
        monkeypatch.setattr(engine, "load_format", lambda _: bare)

    return leave_out


def test_the_figures_of_the_hand_worked_cuts_are_in_the_table() -> None:
    first, last = viewed().cuts[0], viewed().cuts[-1]
    assert (first.position, first.symbol, last.position, last.symbol) == (1, "3", 6, "2")
    assert [first.root_depth_in, first.root_depth_mm] == pytest.approx([0.2805, 7.1247])
    assert [last.centre_in, last.centre_mm] == pytest.approx([0.830, 21.082])


@pytest.mark.parametrize(
    ("units", "there", "gone"),
    [("", ["0.2805", "7.12"], []), ("inch", ["0.2805"], ["7.12"]), ("mm", ["7.125"], ["0.2805", "7.12<"])],
)
def test_the_table_has_the_columns_of_the_reader(units: str, there: list[str], gone: list[str]) -> None:
    """0.2805 in is 7.1247 mm; alone, millimetres have a third decimal."""
    with speaking("en-gb", units=units):
        table = render_to_string("keys/_cuts_table.html", {"view": viewed()})
    assert [figure for figure in there if figure not in table] == []
    assert [figure for figure in gone if figure in table] == []


def test_an_ordinary_key_is_measured_from_the_shoulder() -> None:
    view = viewed(FIXED, FIXED_BITTING)
    assert (view.reference, view.first_end) == ("shoulder", "bow")
    assert view.cuts[0].root_depth_in == pytest.approx(0.305)
    assert view.cuts[5].centre_in == pytest.approx(1.011)


def test_the_cuts_stand_to_scale_along_the_blade_and_in_depth() -> None:
    drawing = drawn()
    assert [label.x - drawing.left for label in drawing.labels] == [
        round(PIXELS_PER_INCH * inches) for inches in (0.080, 0.230, 0.380, 0.530, 0.680, 0.830)
    ]
    depths = [(drawing.foot - label.root_y) / PIXELS_PER_INCH for label in drawing.labels]
    assert depths == pytest.approx([0.2805, 0.243, 0.3055, 0.268, 0.2055, 0.293], abs=0.5 / PIXELS_PER_INCH)


@pytest.mark.parametrize(("format_id", "bitting"), [(A2, A2_BITTING), (FIXED, FIXED_BITTING)])
def test_the_outline_passes_through_the_root_of_every_cut(format_id: str, bitting: str) -> None:
    drawing = drawn(format_id, bitting)
    for label in drawing.labels:
        flats = [y1 for (x1, y1), (x2, y2) in pairwise(drawing.edge) if y1 == y2 and x1 < label.x < x2]
        assert flats == [label.root_y]


def test_the_symbols_are_the_bitting_from_left_to_right() -> None:
    labels = sorted(drawn().labels, key=lambda label: label.x)
    assert "".join(label.symbol for label in labels) == A2_BITTING


@pytest.mark.parametrize(
    ("format_id", "bitting", "ends"),
    [(A2, A2_BITTING, ("tip", "bow")), (FIXED, FIXED_BITTING, ("bow", "tip"))],
)
def test_it_says_which_end_is_which(format_id: str, bitting: str, ends: tuple[str, str]) -> None:
    drawing = drawn(format_id, bitting)
    assert (drawing.first_end, drawing.last_end) == ends
    assert bool(drawing.bow) == (ends[0] == "bow")


def test_an_inch_and_25_4_millimetres_are_the_same_length_on_the_rulers() -> None:
    inches, millimetres = drawn(FIXED, FIXED_BITTING).rulers
    whole = next(tick.x for tick in inches.ticks if tick.words == "1")
    zero = next(tick.x for tick in inches.ticks if tick.words == "0")
    assert whole - zero == PIXELS_PER_INCH
    twenty = next(tick.x for tick in millimetres.ticks if tick.words == "20")
    assert (twenty - zero) / (whole - zero) == pytest.approx(20 / 25.4, abs=0.5 / PIXELS_PER_INCH)


def test_the_rulers_begin_at_the_reference() -> None:
    drawing = drawn()
    assert [ruler.ticks[0].x for ruler in drawing.rulers] == [drawing.left, drawing.left]


@pytest.mark.parametrize("figure", FIGURES)
def test_a_format_without_a_figure_gives_no_picture_and_names_it(without: Any, figure: str) -> None:
    without(figure)
    view = viewed()
    assert view.drawing is None
    assert len(view.missing) == 1
    words = {"first_cut_in": "from the tip", "spacing_in": "cut to the next", "plug_diameter_in": "diameter"}
    assert words[figure] in view.missing[0]


def test_every_missing_figure_is_named(without: Any) -> None:
    without(*FIGURES)
    assert len(viewed().missing) == 3
    assert {(cut.centre_in, cut.root_depth_in) for cut in viewed().cuts} == {(None, None)}


def test_what_is_known_is_told_though_nothing_can_be_drawn(without: Any) -> None:
    without("spacing_in")
    assert viewed().cuts[0].root_depth_in == pytest.approx(0.2805)
    assert viewed().cuts[0].centre_in is None


def test_a_missing_figure_is_told_in_words_on_the_page(without: Any) -> None:
    without("plug_diameter_in")
    page = render_to_string("keys/_drawing_missing.html", {"view": viewed()})
    assert "does not say the diameter of the plug" in page


@pytest.mark.parametrize(("format_id", "bitting"), [(A2, A2_BITTING), (FIXED, FIXED_BITTING)])
def test_everything_lies_inside_the_picture(format_id: str, bitting: str) -> None:
    drawing = drawn(format_id, bitting)
    assert all(drawing.left <= x <= drawing.far_x < drawing.width for x, _ in drawing.edge)
    assert all(drawing.top <= y < drawing.foot for _, y in drawing.edge)
    assert all(drawing.top < label.root_y < drawing.foot for label in drawing.labels)
    for ruler in drawing.rulers:
        assert ruler.baseline < drawing.height
        assert all(drawing.left <= tick.x <= drawing.far_x for tick in ruler.ticks)


def test_the_picture_is_sound_xml_with_a_title_and_ids_of_its_own() -> None:
    found = root(drawn())
    ids = [element.get("id", "") for element in found.iter() if element.get("id")]
    assert next(found.iter("title")).text == "Key"
    assert ids == ["one-title", "one-desc"]


def test_the_words_for_those_who_do_not_see_it_hold_no_cut() -> None:
    described = next(root(drawn()).iter("desc")).text or ""
    assert "6 cuts, position 1 at the tip" in described
    assert A2_BITTING not in described


def test_every_ink_is_a_grey_or_the_page_s_own() -> None:
    inks = {element.get(name) for element in root(drawn()).iter() for name in ("fill", "stroke", "style")}
    assert inks <= {None, "none", "currentColor"}
