"""`python -m pinning`: the documented forms, run as a person would run them."""

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import pinning
from pinning.commands import FORMS, answer, largest_input

FOLDER = Path(pinning.__file__).parent
GUIDE = (FOLDER / "COMMANDS.md").read_text("utf-8")
SCHEMA = json.loads((FOLDER / "data" / "commands.schema.json").read_text("utf-8"))
PIN = {"format": "small-a2-6", "operating": ["361492", "529674"], "control": "743810"}
STACKS = [
    {"position": n, "bottom": 3, "masters": [2], "control": None, "top": 2, "total": 7} for n in range(1, 7)
]
TURN = {"format": "fixed-6", "stacks": STACKS, "key": "353535"}


def started(arguments: list[str], source: bytes) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "pinning", *arguments]
    return subprocess.run(command, input=source, capture_output=True, cwd=FOLDER.parent, check=False)  # noqa: S603


def run(form: str, given: object) -> tuple[int, dict[str, Any]]:
    source = given if isinstance(given, bytes) else json.dumps(given).encode()
    done = started([form], source)
    assert done.stderr == b""
    return done.returncode, json.loads(done.stdout)


def check(name: str, value: object) -> None:
    jsonschema.Draft202012Validator({"$ref": f"#/$defs/{name}", "$defs": SCHEMA["$defs"]}).validate(value)


def refusals(form: str, given: object) -> list[str]:
    status, output = answer(form, given if isinstance(given, bytes) else json.dumps(given).encode())
    check("refused", output)
    assert status == 2
    return [error["code"] for error in output["errors"]]


def examples() -> Iterator[tuple[str, Any, str | None, Any]]:
    """(form, input, kind of output, output): each documented input with the output that follows, if any."""
    blocks = re.findall(r"```json (\w+) (\w+)\n(.*?)```", GUIDE, re.S)
    listed = [(form, kind, json.loads(text)) for form, kind, text in blocks]
    for place, (form, kind, value) in enumerate(listed):
        if kind == "input":
            follows = listed[place + 1] if place + 1 < len(listed) else ("", "input", None)
            yield form, value, follows[1] if follows[1] != "input" else None, follows[2]


EXAMPLES = list(examples())


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_every_form_is_documented_with_an_example() -> None:
    assert {form for form, *_ in EXAMPLES} == set(FORMS)
    assert sum(kind is not None for _, _, kind, _ in EXAMPLES) >= 5


@pytest.mark.parametrize("number", range(len(EXAMPLES)))
def test_a_documented_example_gives_the_documented_answer(number: int) -> None:
    form, given, kind, expected = EXAMPLES[number]
    status, output = run(form, given)
    assert status == (2 if kind == "refused" else 0)
    assert kind is None or output == expected
    check(f"{form}_input", given)
    check("refused" if kind == "refused" else f"{form}_output", output)


def test_the_formats_form_prints_every_format_with_every_parameter() -> None:
    status, output = run("formats", {})
    assert status == 0
    check("formats_output", output)
    assert {format["id"] for format in output["formats"]} >= {"small-a2-6", "small-a4-7", "fixed-6"}


def test_a_printed_format_does_what_its_id_does() -> None:
    for format in run("formats", {})[1]["formats"]:
        deep = format["depths"][-3] * format["positions"]
        sleeve = (format["control"] or {}).get("positions", [])
        places = range(1, format["positions"] + 1)
        control = "".join(format["depths"][2] if place in sleeve else deep[0] for place in places)
        named = answer("pin", json.dumps(_asked(format["id"], deep, control if sleeve else None)).encode())
        assert named == answer("pin", json.dumps(_asked(format, deep, control if sleeve else None)).encode())
        assert named[0] == 0


def _asked(format: object, key: str, control: str | None) -> dict[str, object]:
    return {"format": format, "operating": [key], "control": control}


def test_what_pin_prints_can_be_turned() -> None:
    stacks = run("pin", PIN)[1]["stacks"]
    turned = run("turn", {"format": "small-a2-6", "stacks": stacks, "key": "743810"})
    assert turned == (0, {"operates": False, "withdraws": True, "binds": []})


def test_a_key_that_binds_is_told_where() -> None:
    assert run("turn", TURN | {"key": "353945"}) == (
        0,
        {"operates": False, "withdraws": False, "binds": [4, 5]},
    )


def test_a_key_beyond_the_adjacent_cut_limit_can_be_tried() -> None:
    assert run("turn", TURN | {"key": "390333"})[1]["binds"] == [2, 3]


@pytest.mark.parametrize("form", FORMS)
def test_it_refuses_more_text_than_a_form_reads(form: str) -> None:
    status, output = answer(form, b" " * (largest_input(form) + 1))
    assert (status, output["errors"][0]["code"]) == (2, "too_large")


@pytest.mark.parametrize(
    ("source", "code"),
    [
        (b"", "json"),
        (b"{", "json"),
        (b"\xff\xfe", "json"),
        (b"{} {}", "json"),
        (b'{"format": NaN}', "json"),
        (b'{"format": ' + b"9" * 5000 + b"}", "json"),
        (b"[" * 100_000, "json"),
        (b"[" * 9 + b"]" * 9, "too_deep"),
        (b'{"a": 1, "a": 2}', "duplicate_field"),
        (b"[]", "type"),
        (b"null", "type"),
        (b'"x"', "type"),
    ],
)
@pytest.mark.parametrize("form", FORMS)
def test_it_refuses_what_is_no_json_object(form: str, source: bytes, code: str) -> None:
    assert code in refusals(form, source)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"format": "small-a9-6"}, "unknown_format"),
        ({"format": None}, "missing"),
        ({"format": 5}, "type"),
        ({"format": []}, "type"),
        ({"format": {}}, "missing"),
        ({"operating": None}, "missing"),
        ({"operating": "361492"}, "type"),
        ({"operating": [361492]}, "type"),
        ({"operating": []}, "no_keys"),
        ({"operating": [""]}, "length"),
        ({"operating": ["36149\u00b2"]}, "depth"),
        ({"operating": ["36149\ud800"]}, "depth"),
        ({"control": None}, "control_required"),
        ({"control": 743810}, "type"),
        ({"control": ""}, "value"),
        ({"keyway": "A"}, "unknown_field"),
    ],
)
def test_it_refuses_a_wrong_field_of_pin(changes: dict[str, Any], code: str) -> None:
    assert set(refusals("pin", PIN | changes)) == {code}


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"key": None}, "missing"),
        ({"key": 5}, "type"),
        ({"key": "12345"}, "length"),
        ({"key": "12345x"}, "depth"),
        ({"stacks": None}, "missing"),
        ({"stacks": {}}, "type"),
        ({"stacks": []}, "positions"),
        ({"stacks": [*STACKS[:5], STACKS[5] | {"total": 9}]}, "total"),
        ({"stacks": [*STACKS[:5], {"position": 6, "masters": [], "total": 1}]}, "total"),
        ({"stacks": [*STACKS[:5], {"position": 6, "masters": [2], "bottom": 3}]}, "missing"),
        ({"blank": "gold"}, "value"),
        ({"blank": "control"}, "blank_not_used"),
        ({"operating": []}, "unknown_field"),
    ],
)
def test_it_refuses_a_wrong_field_of_turn(changes: dict[str, Any], code: str) -> None:
    assert refusals("turn", TURN | changes) == [code]


MEASURED = [[0.21, 0.03, 0.03]] * 6


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({}, "missing"),
        ({"stacks": STACKS, "measured_in": MEASURED}, "missing"),
        ({"stacks": {}}, "type"),
        ({"stacks": STACKS[:5]}, "positions"),
        ({"measured_in": 3}, "type"),
        ({"measured_in": MEASURED[:5]}, "positions"),
        ({"measured_in": [*MEASURED[:5], 3]}, "type"),
        ({"measured_in": [*MEASURED[:5], [0.21]]}, "value"),
        ({"measured_in": [*MEASURED[:5], [0.21] * 101]}, "value"),
        ({"measured_in": [*MEASURED[:5], [0.21, -0.1]]}, "value"),
        ({"measured_in": [*MEASURED[:5], [0.21, True]]}, "value"),
        ({"measured_in": [*MEASURED[:5], [0.21, "0.1"]]}, "value"),
        ({"measured_in": MEASURED, "tolerance_in": 0}, "value"),
        ({"measured_in": MEASURED, "tolerance_in": "0.1"}, "value"),
        ({"measured_in": MEASURED, "key": "333333"}, "unknown_field"),
        ({"measured_in": MEASURED, "format": "nope"}, "unknown_format"),
    ],
)
def test_it_refuses_a_wrong_field_of_decode(given: dict[str, Any], code: str) -> None:
    assert refusals("decode", {"format": "fixed-6"} | given) == [code]


ROOTS = {"format": "fixed-6", "root_depths_in": [0.29] * 6}
NO_PLUG = dict(answer("formats", b"{}")[1]["formats"][0], plug_diameter_in=None)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"root_depths_in": None}, "missing"),
        ({"root_depths_in": 0.29}, "type"),
        ({"root_depths_in": [0.29] * 5}, "length"),
        ({"root_depths_in": [0.29] * 5 + [0]}, "value"),
        ({"tolerance_in": -1}, "value"),
        ({"format": "nope"}, "unknown_format"),
        ({"format": NO_PLUG}, "not_measurable"),
        ({"blank": "control"}, "unknown_field"),
    ],
)
def test_it_refuses_a_wrong_field_of_read(changes: dict[str, Any], code: str) -> None:
    assert refusals("read", ROOTS | changes) == [code]


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"now": None}, "missing"),
        ({"now": {}}, "type"),
        ({"target": STACKS[:5]}, "positions"),
        ({"target": [*STACKS[:5], STACKS[5] | {"total": 9}]}, "total"),
        ({"format": "nope"}, "unknown_format"),
        ({"kit": []}, "unknown_field"),
    ],
)
def test_it_refuses_a_wrong_field_of_repin(changes: dict[str, Any], code: str) -> None:
    assert refusals("repin", {"format": "fixed-6", "now": STACKS, "target": STACKS} | changes) == [code]


def test_a_wrong_core_to_repin_is_told_apart_from_the_other() -> None:
    given = {"format": "fixed-6", "now": STACKS, "target": [*STACKS[:5], STACKS[5] | {"total": 9}]}
    errors = answer("repin", json.dumps(given).encode())[1]["errors"]
    assert [error["message"].split(",")[0] for error in errors] == ["target"]


def test_what_pin_prints_can_be_decoded() -> None:
    stacks = run("pin", PIN)[1]["stacks"]
    assert run("decode", {"format": "small-a2-6", "stacks": stacks}) == (
        0,
        {
            "operating": [[3, 5], [2, 6], [1, 9], [4, 6], [7, 9], [2, 4]],
            "control": "743810",
            "accepts": 64,
            "doubts": [],
        },
    )


def test_a_position_without_pins_is_printed_as_it_can_be_given_back() -> None:
    given = {"format": "large-sleeve-34", "operating": ["52345-"], "control": "52565-"}
    stacks = run("pin", given)[1]["stacks"]
    assert (stacks[5]["bottom"], stacks[5]["top"], stacks[5]["total"]) == (None, None, 0)
    turned = run("turn", {"format": "large-sleeve-34", "stacks": stacks, "key": "523459"})
    assert turned[1] == {"operates": True, "withdraws": False, "binds": []}


def test_the_formats_form_takes_no_fields() -> None:
    assert refusals("formats", {"format": "fixed-6"}) == ["unknown_field"]


def test_faults_of_every_field_come_at_once() -> None:
    given = {"format": "fixed-6", "operating": [5, "12x"], "control": 7, "more": 1}
    assert sorted(refusals("pin", given)) == ["depth", "length", "type", "type", "unknown_field"]
    assert sorted(refusals("turn", {"format": "nope", "key": 1})) == ["missing", "type", "unknown_format"]


def test_an_unknown_form_is_refused_with_the_known_ones() -> None:
    status, output = run("cut", {})
    assert status == 2
    assert [error["code"] for error in output["errors"]] == ["unknown_form"]
    assert all(form in output["errors"][0]["message"] for form in FORMS)


def test_without_a_form_nothing_is_done() -> None:
    done = started([], b"{}")
    assert (done.returncode, json.loads(done.stdout)["errors"][0]["code"]) == (2, "unknown_form")


def test_every_code_is_explained_in_the_guide() -> None:
    written = set(re.findall(r"`([a-z_]+)`", GUIDE.split("## Codes")[1]))
    assert {"json", "length", "macs", "parity", "unbuildable", "control_cut", "positions", "total"} <= written
    assert {"control_shared", "empty_position", "blank_not_used", "not_measurable"} <= written
    assert {"array", "sequence", "constants"} <= written
