"""Counting through the engine: exact where it can be, else an interval, never mixed up."""

from itertools import product
from random import Random

import pytest

from keyctl import engine
from keyctl.engine import exposure
from keyctl.exposure.heat import Line, draw_heat
from keyctl.exposure.models import CoreExposure
from keyctl.exposure.wording import arguments, savings_of, short_argument
from pinning.errors import Refusal, Refused

FORMAT = "small-a4-5"


def random_boxes(number: int) -> list[tuple[tuple[int, ...], ...]]:
    rng = Random(4)
    return [tuple(tuple(sorted(rng.sample(range(6), 2))) for _ in range(5)) for _ in range(number)]


def test_a_count_is_exact_where_it_can_be_made() -> None:
    boxes = random_boxes(40)
    known = [engine.read_key(FORMAT, "".join(map(str, cuts))) for cuts in product(*boxes[0])]
    every = {cuts for box in boxes for cuts in product(*box)}
    counted = exposure.count_unplanned(FORMAT, boxes, known)
    assert counted.is_exact
    assert counted.number == len(every) - 32


def test_what_is_refused_is_estimated_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_given: object) -> int:
        raise Refused([Refusal("too_large", "Too many steps.")])

    monkeypatch.setattr(exposure, "unplanned_total", refuse)
    boxes = random_boxes(40)
    exact = len({cuts for box in boxes for cuts in product(*box)})
    counted = exposure.count_unplanned(FORMAT, boxes, [])
    assert not counted.is_exact
    assert counted.low <= exact <= counted.high


def figures(**facts: object) -> CoreExposure:
    given: dict[str, object] = {"accepts": 128, "unplanned": 124, "needed": 64, "wafers": 7, "idle_wafers": 1}
    given |= {"trials": 28, "blanks": 7, "without": [["GGM", 16, 4], ["A", 64, 6], ["AB", 32, 5]]}
    return CoreExposure(**(given | facts))


def test_the_argument_names_what_helps_most_first() -> None:
    assert short_argument(figures()) == "64 without 1 wafer for no planned key"
    assert short_argument(figures(idle_wafers=0, needed=128)) == "16 without master GGM"
    assert short_argument(figures(idle_wafers=0, needed=16, without=[["A", 16, 4]])) == (
        "no fewer: its keys need all of it"
    )


def test_only_masters_whose_loss_saves_something_are_named() -> None:
    assert [(each.master, each.fewer, each.wafers) for each in savings_of(figures())] == [
        ("GGM", 48, 2),
        ("AB", 32, 1),
    ]
    said = " ".join(arguments(figures()))
    assert "124 of them may be cut" in said
    assert "1 wafer of its 7 serves no planned key" in said
    assert "at most 28 trial cuts on 7 blanks" in said


def test_the_heat_view_has_a_row_for_each_place_with_cores() -> None:
    down = [Line("a", "Alder"), Line("b", "Beech"), Line("c", "Cedar", "building=c")]
    across = [Line(1, "GGM1", "system=1"), Line(2, "GM1")]
    found = draw_heat({("a", 1): {4: 1, 128: 2}, ("c", 1): {5: 1}}, down, across, title="Sample")
    assert found is not None
    assert [[(cell.typical, cell.worst, cell.cores, cell.level) for cell in row] for row in found.rows] == [
        [(128, 128, 3, 4)],
        [(5, 5, 1, 2)],
    ]
    assert found.rows[1][0].query == "building=c&system=1"
    assert all(cell.width >= 48 and cell.height >= 48 for row in found.rows for cell in row)
    assert draw_heat({}, down, across, title="Sample") is None
