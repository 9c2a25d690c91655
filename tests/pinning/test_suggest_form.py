"""`suggest` of `python -m pinning`: what it refuses, and the answer's parts."""

import json
from random import Random
from typing import Any

import pytest

import pinning.suggesting
from pinning.choosing import KeySet
from tests.pinning.test_choosing import middling
from tests.pinning.test_commands import refusals
from tests.pinning.test_planning_forms import asked

OPENS = {"M": ["D1", "D2", "D3", "D4"], "K1": ["D1"], "K2": ["D2", "D3"]}
SUGGEST = {"opens": OPENS, "needed": ["D1", "D2"]}


def test_each_entry_names_keys_and_counts_extra_doors() -> None:
    front = [{"keys": ["M"], "extra": 2}, {"keys": ["K1", "K2"], "extra": 1}]
    assert asked("suggest", SUGGEST) == {"front": front}
    assert asked("suggest", SUGGEST | {"max_keys": None, "limit_s": None}) == {"front": front}
    assert asked("suggest", SUGGEST | {"max_keys": 1}) == {"front": front[:1]}


def test_too_few_keys_leave_an_empty_front() -> None:
    given = {"opens": {"K1": ["D1"], "K2": ["D2"]}, "needed": ["D1", "D2"], "max_keys": 1}
    assert asked("suggest", given) == {"front": []}


def test_no_needed_door_needs_no_key() -> None:
    assert asked("suggest", {"opens": OPENS, "needed": []}) == {"front": [{"keys": [], "extra": 0}]}


def test_a_door_told_twice_counts_once() -> None:
    given = {"opens": {"K1": ["D1", "D2", "D2"]}, "needed": ["D1", "D1"]}
    assert asked("suggest", given) == {"front": [{"keys": ["K1"], "extra": 1}]}


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        ({"opens": None}, ["missing"]),
        ({"opens": ["D1"]}, ["type"]),
        ({"opens": {"K1": "D1"}}, ["type"]),
        ({"opens": {"K1": [1]}}, ["type"]),
        ({"opens": {"": ["D1"]}}, ["value"]),
        ({"opens": {"K1": [""]}}, ["value"]),
        ({"needed": None}, ["missing"]),
        ({"needed": "D1"}, ["type"]),
        ({"needed": [1]}, ["type"]),
        ({"needed": ["D" * 101]}, ["value"]),
        ({"needed": ["D9"]}, ["no_key"]),
        ({"max_keys": -1, "limit_s": 0}, ["value", "value"]),
        ({"max_keys": True}, ["type"]),
        ({"keys": 1}, ["unknown_field"]),
    ],
)
def test_it_refuses_a_wrong_field(changes: dict[str, Any], codes: list[str]) -> None:
    assert sorted(refusals("suggest", SUGGEST | changes)) == codes


def test_a_choice_that_is_not_proven_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit is too coarse to be hit by a small question, so the answer is stood in for."""
    monkeypatch.setattr(pinning.suggesting, "choose_keys", lambda *_: [KeySet(("K1",), 0, False)])
    assert refusals("suggest", SUGGEST) == ["too_large"]


def test_a_middling_question_can_be_asked_as_text() -> None:
    opens, needed = middling(Random(1))
    listed = {key: [f"D{door}" for door in sorted(doors)] for key, doors in opens.items()}
    found = asked("suggest", json.loads(json.dumps({"opens": listed, "needed": [f"D{d}" for d in needed]})))
    assert len(found["front"]) > 1
