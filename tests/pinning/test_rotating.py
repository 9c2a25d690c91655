"""The rotating constant against choosing and listing."""

import json
from itertools import combinations, pairwise, product
from random import Random
from typing import Any

import pytest

from pinning import CoreFormat, Progression, Refused, load, parse_bitting, parse_format, progress, rotate
from pinning.commands import answer
from tests.pinning import cases
from tests.pinning.published import figures

COUNTS = figures("counts")
A2 = load("small-a2-6")
CASES_EACH = 2_500


def random_base(rng: Random) -> Progression:
    """A progression in a format with a limit, under a part of the array and of the positions."""
    mapping = cases.random_mapping(rng) | {"macs": rng.choice([None, 1, 2, 3, 4]), "step": 1}
    format = parse_format(mapping)
    while True:
        master = cases.random_text(rng, format)
        cuts = [format.depth_values[format.depths.index(symbol)] for symbol in master]
        if not too_far(format, cuts):
            break
    array = [rng.sample(others, rng.randint(0, len(others))) for others in _others(format, cuts)]
    sequence = rng.sample(range(1, format.positions + 1), rng.randint(0, format.positions))
    return progress(format, parse_bitting(format, master), array, sequence)


def _others(format: CoreFormat, cuts: list[int]) -> list[list[int]]:
    return [[depth for depth in format.depth_values if depth != own] for own in cuts]


def too_far(format: CoreFormat, cuts: Any) -> bool:
    return format.macs is not None and any(abs(a - b) > format.macs for a, b in pairwise(cuts))


def brute(base: Progression, constants: int) -> set[tuple[int, ...]]:
    """Out of all keys of master's cuts and array's cuts, those that hold the master's so many times."""
    moved = set(base.sequence)
    columns = [
        {own, *base.array[place]} if place + 1 in moved else {own} for place, own in enumerate(base.held.cuts)
    ]
    return {
        cuts
        for cuts in product(*columns)
        if sum(cuts[place - 1] == base.held.cuts[place - 1] for place in moved) == constants
    }


@pytest.mark.parametrize("seed", range(8))
def test_the_rotation_equals_choosing_among_all_keys(seed: int) -> None:
    """20,000 random cases: the keys themselves, all of them and those within the limit."""
    rng = Random(seed)
    for _ in range(CASES_EACH):
        base = random_base(rng)
        keys = rotate(base, rng.randint(0, len(base.sequence)))
        expected = brute(base, keys.constants)
        listed = [key.cuts for key in keys.between(0, keys.total)]
        assert len(listed) == keys.total == len(expected)
        assert set(listed) == expected
        assert keys.usable_total == sum(not too_far(base.format, cuts) for cuts in expected)


def test_the_rotating_constant_gives_the_published_changes() -> None:
    case = COUNTS["rotating_constant"]
    base = progress(A2, parse_bitting(A2, "143254"))
    assert [rotate(base, held).total for held in range(1, 6)] == case["changes"]


def test_the_constants_move_from_the_slowest_position_on() -> None:
    keys = rotate(progress(A2, parse_bitting(A2, "143254")), 2)
    starts = [keys[start].cuts for start in range(0, 3840, 256)]
    held = [tuple(n for n in range(6) if cuts[n] == (1, 4, 3, 2, 5, 4)[n]) for cuts in starts]
    assert held == list(combinations(range(6), 2))


def test_an_index_outside_is_refused() -> None:
    keys = rotate(progress(A2, parse_bitting(A2, "143254")), 5)
    for index in (-1, 24):
        with pytest.raises(IndexError, match="outside a progression of 24"):
            keys[index]


def test_no_more_positions_can_be_held_than_progress() -> None:
    with pytest.raises(Refused, match="2 positions are progressed"):
        rotate(progress(A2, parse_bitting(A2, "143254"), sequence=[1, 2]), 3)


def asked(**changes: object) -> dict[str, Any]:
    given = {"format": "fixed-6", "master": "143254"} | changes
    status, output = answer("progress", json.dumps(given).encode())
    assert status == 0
    return output


@pytest.mark.parametrize("method", ["total", "rotating"])
def test_the_pages_together_hold_the_usable_keys_once(method: str) -> None:
    array = [["9", "3"], ["0", "8"], ["9", "1"], ["0", "4"], ["9", "3"], ["2"]]
    whole = asked(array=array, method=method, constants=2, size=10_000)
    pages = [
        asked(array=array, method=method, constants=2, page=page, size=7)
        for page in range(whole["total"] // 7 + 1)
    ]
    assert [text for page in pages for text in page["bittings"]] == whole["bittings"]
    assert len(set(whole["bittings"])) == len(whole["bittings"]) == whole["usable"] < whole["total"]


@pytest.mark.parametrize("case", COUNTS["progression"], ids=lambda case: case["format"])
def test_the_form_gives_the_published_changes(case: dict[str, Any]) -> None:
    found = asked(format=case["format"], master=case["master"])
    assert (found["total"], found["usable"], len(found["bittings"])) == (case["changes"], case["changes"], 64)


def test_the_form_gives_the_published_changes_by_rotating_constant() -> None:
    case = COUNTS["rotating_constant"]
    found = [asked(format="small-a2-6", method="rotating", constants=held)["total"] for held in range(1, 6)]
    assert found == case["changes"]


def test_the_largest_progressions_are_counted_and_paged_at_once() -> None:
    wide = dict(answer("formats", b"{}")[1]["formats"][0], positions=16, control=None, macs=None)
    wide |= {"total": {"plain": 23}, "drivers": None}
    found = asked(format=wide, master="0" * 16, method="rotating", constants=8, page=10**6)
    each = len([depth for depth in wide["depth_values"][1:] if depth % wide["step"] == 0])
    assert found["total"] == found["usable"] == 12_870 * each**8
    assert len(found["bittings"]) == 64
