"""`count`, `progress` and `audit` of `python -m pinning`: what they refuse, and the answer's parts."""

import json
from random import Random
from typing import Any

import pytest

from pinning import parse_any_bitting, turn
from pinning.commands import answer
from pinning.planning import _proofs
from tests.pinning import cases
from tests.pinning.published import figures
from tests.pinning.test_commands import STACKS, check, refusals

COUNT = {"positions": 6, "depths": 10, "macs": 7}
PROGRESS = {"format": "small-a2-6", "master": "361492"}
FULL = [["5"], ["8"], ["3"], ["6"], ["1"], ["4"]]
CORE = {"operating": ["333333", "555555"]}
AUDIT = {"format": "fixed-6", "keys": {"K1": "333333"}, "cores": {"C1": CORE}}


def asked(form: str, given: object) -> dict[str, Any]:
    status, output = answer(form, json.dumps(given).encode())
    assert status == 0
    check(f"{form}_input", given)
    check(f"{form}_output", output)
    return output


def test_rules_left_out_or_null_forbid_nothing() -> None:
    bare = {"positions": 3, "depths": 4}
    nulls = dict.fromkeys(("macs", "max_equal", "max_run", "min_distinct", "min_span"))
    assert asked("count", bare) == asked("count", bare | nulls) == {"count": 64}


@pytest.mark.parametrize("case", figures("counts")["ruled"], ids=lambda case: str(case["count"]))
def test_the_form_counts_what_others_have_counted(case: dict[str, Any]) -> None:
    given = {"positions": case["positions"], "depths": case["depths"], **case["rules"]}
    assert asked("count", given) == {"count": case["count"]}


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        ({"positions": None}, ["missing"]),
        ({"positions": 0}, ["value"]),
        ({"positions": 65, "depths": 65}, ["value", "value"]),
        ({"depths": "10"}, ["type"]),
        ({"macs": -1, "max_run": 0}, ["value", "value"]),
        ({"max_equal": 1.5}, ["type"]),
        ({"min_span": True, "format": "fixed-6"}, ["type", "unknown_field"]),
    ],
)
def test_it_refuses_a_wrong_field_of_count(changes: dict[str, Any], codes: list[str]) -> None:
    assert sorted(refusals("count", COUNT | changes)) == codes


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        ({"format": "nope"}, ["unknown_format"]),
        ({"master": None}, ["missing"]),
        ({"master": "36149"}, ["length"]),
        ({"master": "36149x", "sequence": [0]}, ["depth", "value"]),
        ({"array": "x"}, ["type"]),
        ({"array": FULL[:5]}, ["array"]),
        ({"array": [*FULL[:5], ["2"]], "sequence": [1, 1]}, ["array", "sequence"]),
        ({"array": [*FULL[:5], ["3"]]}, ["array"]),
        ({"array": [*FULL[:5], ["x"]]}, ["depth"]),
        ({"array": [[""], ["80"], *FULL[2:]]}, ["depth", "depth"]),
        ({"array": [*FULL[:4], [4], 4]}, ["depth", "type"]),
        ({"sequence": [7]}, ["sequence"]),
        ({"method": "half"}, ["value"]),
        ({"rules": {"macs": 3}}, ["unknown_field"]),
        ({"rules": {"max_run": 0}}, ["value"]),
        ({"method": "rotating", "constants": 7}, ["constants"]),
        ({"page": -1, "size": 0}, ["value", "value"]),
        ({"size": 10_001}, ["value"]),
        ({"keys": 1}, ["unknown_field"]),
    ],
)
def test_it_refuses_a_wrong_field_of_progress(changes: dict[str, Any], codes: list[str]) -> None:
    assert sorted(refusals("progress", PROGRESS | changes)) == codes


def test_a_master_beyond_the_adjacent_cut_limit_is_refused() -> None:
    assert refusals("progress", {"format": "fixed-6", "master": "190000"}) == ["macs"]


@pytest.mark.parametrize("method", ["total", "rotating", "partial"])
def test_an_array_without_cuts_makes_a_progression_without_keys(method: str) -> None:
    given = {**PROGRESS, "array": [[]] * 6, "method": method}
    assert asked("progress", given) == {"total": 0, "usable": 0, "bittings": []}


def test_a_progression_may_have_more_keys_than_a_machine_word_counts() -> None:
    depths = "".join(map(chr, range(ord("A"), ord("A") + 17)))
    kit = {role: list(range(40)) for role in ("bottom", "master", "top")}
    format = {
        "positions": 16, "depths": depths, "increment_in": 0.01, "base_pin_in": 0.1, "step": 1, "macs": None,
        "order": "tip-bow", "control": None, "total": {"plain": 30}, "pins": kit,
    }  # fmt: skip
    found = asked("progress", {"format": format, "master": "A" * 16, "page": 16**14, "size": 1})
    assert found == {"total": 2**64, "usable": 2**64, "bittings": ["BC" + "B" * 14]}


def test_a_page_past_the_end_is_empty() -> None:
    assert asked("progress", PROGRESS | {"page": 64})["bittings"] == []
    assert len(asked("progress", PROGRESS | {"page": 63})["bittings"]) == 64


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        ({"format": "nope"}, ["unknown_format"]),
        ({"keys": None}, ["missing"]),
        ({"keys": []}, ["type"]),
        ({"keys": {"K1": 1, "K2": "33", "K3": "33333x"}}, ["depth", "length", "type"]),
        ({"keys": {"": "333333"}}, ["value"]),
        ({"cores": "x"}, ["type"]),
        ({"cores": {"C1": None}}, ["type"]),
        ({"cores": {"C1": {}}}, ["missing"]),
        ({"cores": {"C1": {"operating": []}, "C2": {"operating": [1]}}}, ["no_keys", "type"]),
        ({"cores": {"C1": CORE | {"control": "333333"}}}, ["control_not_used"]),
        ({"cores": {"C1": CORE | {"control": 3}}}, ["type"]),
        ({"cores": {"C1": CORE | {"stacks": STACKS}}}, ["value"]),
        ({"cores": {"C1": {"stacks": STACKS[:5]}}}, ["positions"]),
        ({"cores": {"C1": {"stacks": STACKS, "opens": 1}}}, ["unknown_field"]),
        ({"cores": {"C1": {"stacks": {}}}, "keys": {"K": 1}, "more": 1}, ["type", "type", "unknown_field"]),
    ],
)
def test_it_refuses_a_wrong_field_of_audit(changes: dict[str, Any], codes: list[str]) -> None:
    assert sorted(refusals("audit", AUDIT | changes)) == codes


def test_a_wrong_core_is_named_in_every_message() -> None:
    given = AUDIT | {"cores": {"good": CORE, "bad": {"operating": ["12", "3x3333"]}}}
    errors = answer("audit", json.dumps(given).encode())[1]["errors"]
    assert len(errors) == 2
    assert all(error["message"].startswith("core 'bad', operating key") for error in errors)


def test_pins_and_keys_of_a_core_are_audited_alike() -> None:
    pinned = answer("pin", json.dumps({"format": "fixed-6", **CORE}).encode())[1]["stacks"]
    by_pins = asked("audit", AUDIT | {"cores": {"C1": {"stacks": pinned}}})
    assert by_pins == asked("audit", AUDIT) == {"operates": [["K1", "C1"]], "withdraws": [], "incidental": 63}


def test_an_estate_without_cores_has_no_incidental_keys() -> None:
    nothing = {"operates": [], "withdraws": [], "incidental": 0}
    assert asked("audit", AUDIT | {"cores": {}}) == nothing
    assert asked("audit", AUDIT | {"keys": {}})["incidental"] == 64


def test_the_pairs_are_those_of_turning_every_key_in_every_core() -> None:
    """Random small cores as `pin` makes them, by key and then by core."""
    rng = Random(5)
    for _ in range(300):
        format = cases.random_format(rng)
        tried = [cases.tried(format, *cases.random_keys(rng, format)) for _ in range(6)]
        cores = {f"C{n}": core for n, core in enumerate(tried) if core is not None}
        keys = {f"K{n}": parse_any_bitting(format, cases.random_text(rng, format)) for n in range(8)}
        found = [(p.key, p.core, p.operates, p.withdraws) for p in _proofs(cores, keys)]
        turned = [(k, c, turn(cores[c], keys[k])) for k in keys for c in cores]
        assert found == [(k, c, t.operates, t.withdraws) for k, c, t in turned if t.operates or t.withdraws]


def test_it_refuses_more_pairs_than_anybody_reads() -> None:
    many = {f"K{n}": "333333" for n in range(5000)}
    cores = {f"C{n}": CORE for n in range(401)}
    assert refusals("audit", {"format": "fixed-6", "keys": many, "cores": cores}) == ["too_large"]
