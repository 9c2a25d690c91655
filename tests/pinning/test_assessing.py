"""The form `exposure`: what its answer holds, and what it refuses."""

import json
from random import Random
from typing import Any

import pytest

from pinning import to_mapping
from pinning.commands import answer
from tests.pinning import cases
from tests.pinning.test_commands import check, refusals

CORE = {"operating": ["333333", "555555"]}
ESTATE: dict[str, Any] = {
    "format": "fixed-6",
    "keys": {"K1": "333333", "K2": "333334"},
    "cores": {"C1": CORE},
}


def asked(given: object) -> dict[str, Any]:
    check("exposure_input", given)
    status, output = answer("exposure", json.dumps(given).encode())
    assert status == 0, output
    check("exposure_output", output)
    return output


def test_a_core_of_two_keys_has_sixty_two_unplanned_ones() -> None:
    found = asked(ESTATE)
    assert found["cores"]["C1"]["unplanned"] == 62
    assert found["incidental"] == 63
    assert found["cores"]["C1"]["without"] == [
        {"key": "333333", "accepts": 1, "wafers": 0},
        {"key": "555555", "accepts": 1, "wafers": 0},
    ]
    assert [(miss["key"], miss["differences"]) for miss in found["near"]] == [
        ("K2", [{"position": 6, "deeper": 1}])
    ]


def test_a_core_given_by_its_pins_is_meant_for_the_keys_that_turn_it() -> None:
    stacks = [
        {"position": place, "bottom": 3, "masters": [2], "control": None, "top": 5} for place in range(1, 7)
    ]
    found = asked(ESTATE | {"cores": {"C1": {"stacks": stacks}}})["cores"]["C1"]
    assert (found["unplanned"], found["idle_wafers"]) == (63, 6)


def test_a_key_worn_in_two_positions_is_told_only_when_asked_for() -> None:
    keys = {"worn": "332332"}
    assert asked(ESTATE | {"keys": keys})["near"] == []
    (miss,) = asked(ESTATE | {"keys": keys, "worn": 2})["near"]
    assert miss["by_wear"]
    assert miss["differences"] == [{"position": 3, "deeper": 1}, {"position": 6, "deeper": 1}]


@pytest.mark.parametrize("seed", range(20))
def test_whatever_core_can_be_pinned_gets_an_answer(seed: int) -> None:
    """Also with positions left empty, by keys that say so."""
    rng, made = Random(seed), 0
    while made < 15:
        format = cases.random_format(rng)
        texts, control = cases.random_keys(rng, format)
        if cases.tried(format, texts, control) is None:
            continue
        made += 1
        core = {"operating": texts} | ({"control": control} if control else {})
        asked({"format": to_mapping(format), "keys": {}, "cores": {"C": core}})


@pytest.mark.parametrize(
    ("changed", "codes"),
    [
        ({"worn": 0}, ["value"]),
        ({"worn": "2"}, ["type"]),
        ({"keys": {"K": "33333"}}, ["length"]),
        ({"cores": {"C1": {"operating": []}}}, ["no_keys"]),
        ({"more": 1}, ["unknown_field"]),
        ({"format": "nothing"}, ["unknown_format"]),
        ({"cores": {"C1": 7}}, ["type"]),
    ],
)
def test_it_refuses_with_the_reason(changed: dict[str, Any], codes: list[str]) -> None:
    assert refusals("exposure", ESTATE | changed) == codes


def test_it_refuses_more_near_misses_than_anybody_reads() -> None:
    keys = {f"K{number}": "333334" for number in range(2_000)}
    cores = {f"C{number}": CORE for number in range(101)}
    assert refusals("exposure", {"format": "fixed-6", "keys": keys, "cores": cores}) == ["too_large"]
