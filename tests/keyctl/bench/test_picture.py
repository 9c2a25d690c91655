"""The picture of a key in a core: what the eye sees must be what the engine says."""

import json
import random

import pytest

from keyctl import engine
from keyctl.bench.picture import draw_with_key
from keyctl.cores.drawing import Column

FORMATS = ["small-a2-7", "small-a3-6", "small-a4-5"]


def clears(column: Column, line: int) -> bool:
    """Whether a boundary between two pins lies on the line; above the top pin there is only the spring."""
    return line in {pin.y for pin in column.pins[:-1]}


def random_key(chosen: engine.CoreFormat, rng: random.Random) -> str:
    return "".join(rng.choice(chosen.depths) for _ in range(chosen.positions))


def pinned_somehow(chosen: engine.CoreFormat, rng: random.Random) -> engine.Pinning:
    """Any column of pins can be looked at; these need not make sense."""
    stacks = [
        {
            "position": position,
            "bottom": rng.choice(chosen.depth_values),
            "masters": [rng.randint(1, 4) for _ in range(rng.randint(0, 2))],
            "control": rng.randint(1, 12),
            "top": rng.randint(2, 9),
        }
        for position in range(1, chosen.positions + 1)
    ]
    return engine.restore(chosen.id, json.dumps(stacks))


@pytest.mark.parametrize("format_id", FORMATS)
def test_a_boundary_lies_on_a_line_exactly_where_the_engine_finds_it_free(format_id: str) -> None:
    rng = random.Random(5)
    chosen = engine.load_format(format_id)
    for _ in range(100):
        pinned = pinned_somehow(chosen, rng)
        cuts = engine.read_key(format_id, random_key(chosen, rng)).cuts
        drawing = draw_with_key(pinned, cuts, name="x", title="x")
        operating, control = engine.operating_cuts(pinned), engine.withdrawing_cuts(pinned)
        for column, cut, turning, removing in zip(drawing.columns, cuts, operating, control, strict=True):
            assert clears(column, drawing.operating.y) == (cut in turning)
            assert clears(column, drawing.control[0].y) == (cut in removing)


@pytest.mark.parametrize("format_id", FORMATS)
def test_nothing_leaves_its_chamber(format_id: str) -> None:
    rng = random.Random(6)
    chosen = engine.load_format(format_id)
    for _ in range(100):
        cuts = engine.read_key(format_id, random_key(chosen, rng)).cuts
        drawing = draw_with_key(pinned_somehow(chosen, rng), cuts, name="x", title="x")
        for column in drawing.columns:
            assert column.ceiling <= min(pin.y for pin in column.pins)
            assert max(pin.y + pin.height for pin in column.pins) <= column.floor
        assert max(swatch.y for swatch in drawing.legend) < drawing.height
        assert drawing.end_baseline < min(swatch.y for swatch in drawing.legend)


def test_every_label_lies_on_its_pin() -> None:
    rng = random.Random(7)
    chosen = engine.load_format("small-a2-7")
    cuts = engine.read_key(chosen.id, random_key(chosen, rng)).cuts
    for column in draw_with_key(pinned_somehow(chosen, rng), cuts, name="x", title="x").columns:
        for pin in column.pins:
            assert pin.y <= pin.label_y <= pin.y + pin.height
