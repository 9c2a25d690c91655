"""The form `solve`: what it refuses, and that what it prints can be given to the other forms."""

from __future__ import annotations

import json
from itertools import pairwise
from typing import Any

import pytest

from pinning.commands import answer
from pinning.formats import load, to_mapping
from tests.pinning.test_commands import check, refusals

LOCKS = [{"id": "1", "opens": ["M", "A"]}, {"id": "2", "opens": ["M", "B"], "may": ["A"]}]
CHART: dict[str, Any] = {
    "format": "small-a2-6",
    "keys": [{"id": "M"}, {"id": "A", "bitting": "361492"}, {"id": "B", "bitting": None}],
    "locks": LOCKS,
}


def asked(given: dict[str, Any]) -> dict[str, Any]:
    status, output = answer("solve", json.dumps(given).encode())
    assert status == 0, output
    check("solve_input", given)
    check("solve_output", output)
    return output


def test_what_it_prints_can_be_pinned_and_audited() -> None:
    solved = asked(CHART)
    assert solved["status"] == "solved"
    assert solved["bittings"]["A"] == "361492"
    for lock in LOCKS:
        keys = [solved["bittings"][key] for key in lock["opens"]]
        given = {"format": "small-a2-6", "operating": keys, "control": solved["control"]}
        assert answer("pin", json.dumps(given).encode())[1]["stacks"] == solved["stacks"][str(lock["id"])]
    cores = {lock: {"stacks": stacks} for lock, stacks in solved["stacks"].items()}
    given = {"format": "small-a2-6", "keys": solved["bittings"] | {"CTR": solved["control"]}, "cores": cores}
    audited = answer("audit", json.dumps(given).encode())[1]
    shall = [["M", "1"], ["M", "2"], ["A", "1"], ["B", "2"]]
    assert sorted(audited["operates"]) == sorted(shall + solved["let_in"])
    assert audited["withdraws"] == [["CTR", "1"], ["CTR", "2"]]


def test_the_rules_bind_what_is_made() -> None:
    rules = {"macs": 3, "max_equal": 2, "max_run": 1, "min_distinct": 4, "min_span": 5, "distinct": True}
    made = asked(CHART | {"rules": rules | {"max_cuts": 2, "min_differences": 2}})["bittings"]
    for key in ("M", "B"):
        cuts = [int(cut) for cut in made[key]]
        assert all(0 < abs(one - two) <= 3 for one, two in pairwise(cuts))
        assert max(map(cuts.count, cuts)) <= 2
        assert len(set(cuts)) >= 4
        assert max(cuts) - min(cuts) >= 5


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        ({"format": "nope"}, ["unknown_format"]),
        ({"keys": None}, ["missing"]),
        ({"keys": [{"id": "M"}, {"id": "M"}], "locks": []}, ["duplicate"]),
        ({"keys": [{"id": 5}], "locks": []}, ["type"]),
        ({"keys": [{"id": "M", "bitting": "36149"}], "locks": []}, ["length"]),
        ({"keys": [{"id": "M", "bitting": "36149-"}], "locks": []}, ["depth"]),
        ({"locks": [{"id": "1", "opens": []}]}, ["no_keys"]),
        ({"locks": [{"id": "1"}]}, ["missing"]),
        ({"locks": [{"id": "1", "opens": ["X"]}]}, ["unknown_key"]),
        ({"locks": [{"id": "1", "opens": ["M"]}, {"id": "1", "opens": ["A"]}]}, ["duplicate"]),
        ({"locks": [{"id": "1", "opens": [1], "shut": []}]}, ["type", "unknown_field"]),
        ({"rules": {"max_cuts": 0, "distinct": 1}}, ["type", "value"]),
        ({"control": "3614"}, ["length"]),
        ({"format": "fixed-6", "control": "361492"}, ["control_not_used"]),
        ({"limit_s": 0}, ["value"]),
    ],
)
def test_it_refuses_a_wrong_field(changes: dict[str, Any], codes: list[str]) -> None:
    assert sorted(refusals("solve", CHART | changes)) == codes


def test_it_refuses_more_keys_than_a_search_holds_for_a_format_of_many_depths() -> None:
    depths = "".join(map(chr, range(0xC0, 0x100)))
    pins = {role: list(range(100)) for role in ("bottom", "master", "top")}
    format = {
        "positions": 16, "depths": depths, "increment_in": 0.01, "base_pin_in": 0.1, "step": 1, "macs": None,
        "order": "tip-bow", "control": None, "total": {"plain": 90}, "pins": pins,
    }  # fmt: skip
    chart = {"format": format, "keys": [{"id": str(key)} for key in range(400)], "locks": []}
    assert refusals("solve", chart) == ["too_large"]


def test_a_chart_without_locks_only_cuts_its_keys() -> None:
    solved = asked({"format": "fixed-6", "keys": [{"id": "M"}], "locks": []})
    assert solved["status"] == "solved"
    assert solved["stacks"] == {}


def test_without_locks_the_control_key_has_no_core_to_fit() -> None:
    small = to_mapping(load("small-a2-6"))
    kit = small["pins"] | {"control": [1], "top": [1]}
    given = {"format": small | {"pins": kit}, "keys": [{"id": "M"}], "locks": []}
    assert asked(given | {"control": "743810"})["status"] == "solved"
    assert asked(given | {"locks": [{"id": "1", "opens": ["M"]}]})["status"] == "impossible"
