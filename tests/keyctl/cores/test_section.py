"""A core cut open with a key in it: the eye sees what the engine's `turn` says, in every construction.

`turn` knows nothing of pictures: it asks whether a break lies at a height.
Here drawn rectangles are read back.
"""

import json
import random
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from django.template.loader import render_to_string

from keyctl import engine
from keyctl.cores.section import FLAT, Chamber, Section, draw_section

FORMATS = [format_id for format_id, _ in engine.format_names()]
SLEEVED = [format_id for format_id in FORMATS if engine.load_format(format_id).sleeve]


def clears(chamber: Chamber, line: int) -> bool:
    """Whether a boundary between two drawn pins lies on the line; above the top pin is only the spring."""
    return line in {pin.y for pin in chamber.column.pins[:-1]}


def random_key(chosen: engine.CoreFormat, rng: random.Random) -> engine.Bitting:
    return engine.read_key(chosen.id, "".join(rng.choice(chosen.depths) for _ in range(chosen.positions)))


def pinned_somehow(chosen: engine.CoreFormat, rng: random.Random) -> engine.Pinning:
    """Any column of pins can be looked at; these need not make sense."""
    stacks = [
        {
            "position": position,
            "bottom": rng.choice(chosen.depth_values),
            "masters": [rng.randint(1, 4) for _ in range(rng.randint(0, 3))],
            "control": rng.randint(1, 12) if position in chosen.sleeve else None,
            "top": rng.randint(2, 9),
        }
        for position in range(1, chosen.positions + 1)
    ]
    return engine.restore(chosen.id, json.dumps(stacks))


def turning_key(pinned: engine.Pinning, rng: random.Random) -> engine.Bitting | None:
    """A random key that turns the plug; none where some chamber lets nothing pass."""
    cuts = engine.operating_cuts(pinned)
    if not all(cuts):
        return None
    format = pinned.format
    signs = "".join(format.depths[format.depth_values.index(rng.choice(each))] for each in cuts)
    return engine.read_key(format.id, signs)


def section(pinned: engine.Pinning, key: engine.Bitting, blank: str = "operating") -> Section:
    return draw_section(pinned, key, name="one", title="A core with a key in it", blank=blank)


def sections(
    format_id: str, seed: int, count: int = 40
) -> list[tuple[engine.Pinning, engine.Bitting, Section]]:
    """Random pins with random keys, and with keys that turn them, which are rare among random ones."""
    rng, chosen = random.Random(seed), engine.load_format(format_id)
    found = []
    for _ in range(count):
        pinned = pinned_somehow(chosen, rng)
        for key in (random_key(chosen, rng), turning_key(pinned, rng)):
            if key:
                found.append((pinned, key, section(pinned, key)))
    return found


@pytest.mark.parametrize("format_id", FORMATS)
def test_the_drawn_pins_part_at_a_line_exactly_where_the_engine_finds_it_free(format_id: str) -> None:
    for pinned, key, drawn in sections(format_id, 5):
        operating, control = engine.operating_cuts(pinned), engine.withdrawing_cuts(pinned)
        for place, (chamber, cut) in enumerate(zip(drawn.chambers, key.cuts, strict=True)):
            assert clears(chamber, chamber.plug.y) == chamber.plug.is_free == (cut in operating[place])
            if chamber.core:
                assert clears(chamber, chamber.core.y) == chamber.core.is_free == (cut in control[place])


@pytest.mark.parametrize("format_id", FORMATS)
def test_the_picture_and_its_words_give_the_verdict_of_turn(format_id: str) -> None:
    seen = set()
    for pinned, key, drawn in sections(format_id, 6):
        told = engine.try_key(pinned, key)
        free = all(chamber.plug.is_free for chamber in drawn.chambers)
        assert told.operates == free == drawn.plug_words.startswith("The plug turns")
        if pinned.format.sleeve:
            out = all(chamber.core and chamber.core.is_free for chamber in drawn.chambers)
            assert told.withdraws == out == drawn.core_words.startswith("The core comes out")
        if not told.operates:
            blocked = [str(chamber.position) for chamber in drawn.chambers if not chamber.plug.is_free]
            assert ", ".join(blocked) in drawn.plug_words
        seen.add(told.operates)
    assert seen == {True, False}


@pytest.mark.parametrize("format_id", FORMATS)
def test_a_pin_is_marked_across_where_it_stands_across_and_nowhere_else(format_id: str) -> None:
    for _pinned, _key, drawn in sections(format_id, 7, count=15):
        for crossing in drawn.crossings:
            assert crossing.is_free or crossing.pin or crossing.across
            if crossing.pin:
                assert crossing.across
                assert crossing.pin.role == crossing.across.role
                assert crossing.pin.y < crossing.y < crossing.pin.y + crossing.pin.height


@pytest.mark.parametrize("format_id", FORMATS)
def test_every_pin_stands_on_the_key_and_nothing_leaves_its_chamber(format_id: str) -> None:
    for _pinned, _key, drawn in sections(format_id, 8, count=15):
        edge = dict(drawn.edge)
        for chamber in drawn.chambers:
            column = chamber.column
            if column.pins:
                assert column.pins[0].y + column.pins[0].height == edge[column.middle - FLAT]
                assert column.ceiling <= min(pin.y for pin in column.pins)
            assert edge[column.middle - FLAT] <= drawn.cut_baseline
            for pin in column.pins:
                assert pin.y <= pin.label_y <= pin.y + pin.height
        legend = [swatch.y for swatch in drawn.drawing.legend]
        assert drawn.core_baseline < min(legend)
        assert max(legend) < drawn.drawing.height


@pytest.mark.parametrize("format_id", FORMATS)
def test_the_edge_of_the_key_runs_from_left_to_right_without_turning_back(format_id: str) -> None:
    for _pinned, _key, drawn in sections(format_id, 9, count=10):
        assert all(before[0] <= after[0] for before, after in pairwise(drawn.edge))


def test_the_key_of_a_hand_worked_stack() -> None:
    """A2, position 1 with operating cuts 3 and 5 and control cut 7: bottom 3, master 2, control 12, top 6.
    A key cut 4 there puts the line in the middle of the master pin: one increment on either side."""
    pinned = engine.pin("small-a2-6", ["361492", "529674"], "743810")
    drawn = section(pinned, engine.read_key("small-a2-6", "461492"))
    assert drawn.plug_words == "The plug does not turn: it binds in chamber 1."
    first = drawn.chambers[0].plug
    assert first.words == "The master pin 2 stands across: 1 increment above the line, 1 increment below it."
    assert first.pin
    assert first.y - first.pin.y == first.pin.height - (first.y - first.pin.y) == 12


def test_the_control_key_of_that_core_takes_it_out() -> None:
    pinned = engine.pin("small-a2-6", ["361492", "529674"], "743810")
    drawn = section(pinned, engine.read_key("small-a2-6", "743810"))
    assert drawn.core_words == "The core comes out: the sleeve turns with the plug."
    assert not drawn.turning.operates


@pytest.mark.parametrize(
    ("format_id", "blank", "key", "words"),
    [
        ("full-tip-6", "control", "123456", "The core comes out: the longer tip"),
        ("full-tip-6", "operating", "123456", "The core stays in: only the longer tip"),
        ("full-tip-6", "control", "323456", "The core stays in: the plug does not turn"),
        ("padlock-screw-6", "operating", "123456", "A screw holds the core; the open shackle"),
        ("padlock-screw-6", "operating", "323456", "The core stays in: a screw holds it"),
        ("fixed-6", "operating", "123456", ""),
    ],
)
def test_how_a_core_without_a_sleeve_comes_out(format_id: str, blank: str, key: str, words: str) -> None:
    pinned = engine.pin(format_id, ["123456"], None)
    drawn = section(pinned, engine.read_key(format_id, key), blank)
    assert drawn.core_words.startswith(words) if words else drawn.core_words == ""
    assert all(chamber.core is None for chamber in drawn.chambers)


def test_outside_the_sleeve_a_withdrawing_key_meets_the_operating_line() -> None:
    for _pinned, _key, drawn in sections("large-sleeve-34", 10, count=5):
        lines = {chamber.position: chamber.core.y for chamber in drawn.chambers if chamber.core}
        assert {place for place, y in lines.items() if y != drawn.drawing.operating.y} == {3, 4}


@pytest.mark.parametrize("format_id", FORMATS)
def test_it_is_sound_xml_without_styles_and_says_the_verdict_aloud(format_id: str) -> None:
    _pinned, _key, drawn = sections(format_id, 11, count=1)[0]
    root = ElementTree.fromstring(render_to_string("cores/_section.svg.html", {"section": drawn}))  # noqa: S314
    assert root.get("role") == "img"
    named = {element.get("id"): element.text or "" for element in root.iter() if element.get("id")}
    assert drawn.plug_words in named["one-desc"]
    assert set((root.get("aria-labelledby") or "").split()) <= set(named)
    assert not any(element.get("style") for element in root.iter())
    words = ["".join(text.itertext()) for text in root.iter("text")]
    assert words.count("free") + words.count("binds") >= len(drawn.chambers)


def test_the_table_beside_it_gives_the_reason_of_every_chamber() -> None:
    _pinned, _key, drawn = sections("small-a2-6", 12, count=1)[0]
    text = render_to_string("cores/_section_and_table.html", {"section": drawn})
    assert drawn.plug_words in text
    assert drawn.core_words in text
    for chamber in drawn.chambers:
        assert chamber.core
        assert text.count(chamber.plug.words) >= 1 <= text.count(chamber.core.words)
