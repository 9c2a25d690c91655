"""What a release promised to other programs still holds; and the comparison sees each way to break it."""

import json
from collections.abc import Callable
from copy import deepcopy
from typing import Any, NamedTuple

import pytest

from tests.releases import KEPT, ROOT, versions
from tests.releases.descriptions import api_faults, command_faults

Node = Any
PROMISED = [version for version in versions() if (KEPT / version / "openapi.json").exists()]


def kept(version: str, name: str) -> Node:
    return json.loads((KEPT / version / name).read_text())


@pytest.mark.parametrize("version", PROMISED)
def test_the_api_goes_on_from_each_release(version: str) -> None:
    today = json.loads((ROOT / "tests" / "api" / "openapi.json").read_text())
    assert list(api_faults(kept(version, "openapi.json"), today)) == []


@pytest.mark.parametrize("version", PROMISED)
def test_the_commands_go_on_from_each_release(version: str) -> None:
    today = json.loads((ROOT / "pinning" / "data" / "commands.schema.json").read_text())
    assert list(command_faults(kept(version, "commands.schema.json"), today)) == []


def test_the_first_stable_release_is_among_them() -> None:
    assert "1.0.0" in PROMISED


DOOR: Node = {
    "type": "object",
    "properties": {
        "number": {"type": "string", "maxLength": 20},
        "kind": {"enum": ["inner", "outer"]},
        "note": {"type": ["string", "null"]},
    },
    "required": ["number"],
}
API: Node = {
    "paths": {
        "/doors/": {
            "post": {
                "parameters": [{"in": "query", "name": "q", "schema": {"type": "string"}}],
                "requestBody": {"content": {"json": {"schema": {"$ref": "#/components/schemas/Asked"}}}},
                "responses": {
                    "201": {
                        "headers": {"ETag": {}},
                        "content": {"json": {"schema": {"$ref": "#/components/schemas/Told"}}},
                    }
                },
            }
        }
    },
    "components": {"schemas": {"Asked": DOOR, "Told": DOOR}},
}


class Operation(NamedTuple):
    """An operation, what it asks for and what it tells."""

    op: Node
    asked: Node
    told: Node


def changed(change: Callable[[Operation], Any]) -> list[str]:
    new = deepcopy(API)
    schemas = new["components"]["schemas"]
    schemas |= {name: deepcopy(DOOR) for name in schemas}
    change(Operation(new["paths"]["/doors/"]["post"], schemas["Asked"], schemas["Told"]))
    return list(api_faults(API, new))


BREAKS: dict[str, Callable[[Operation], Any]] = {
    "a field goes": lambda at: at.told["properties"].pop("note"),
    "a field that was taken goes": lambda at: at.asked["properties"].pop("note"),
    "one more must be sent": lambda at: at.asked["required"].append("note"),
    "one may be missing": lambda at: at.told["required"].clear(),
    "less is taken": lambda at: at.asked["properties"]["number"].update(maxLength=10),
    "null is not taken": lambda at: at.asked["properties"]["note"].update(type="string"),
    "null is told": lambda at: at.told["properties"]["number"].update(type=["string", "null"]),
    "another type": lambda at: at.told["properties"]["number"].update(type="integer"),
    "a word goes": lambda at: at.asked["properties"]["kind"].update(enum=["inner"]),
    "a form is asked": lambda at: at.asked["properties"]["number"].update(pattern="^[0-9]+$"),
    "a parameter goes": lambda at: at.op["parameters"].clear(),
    "a parameter must be sent": lambda at: at.op["parameters"][0].update(required=True),
    "a new one must be sent": lambda at: at.op["parameters"].append(
        {"in": "header", "name": "Why", "required": True, "schema": {}}
    ),
    "an answer goes": lambda at: at.op["responses"].clear(),
    "a header goes": lambda at: at.op["responses"]["201"]["headers"].clear(),
    "a body must be sent": lambda at: at.op["requestBody"].update(required=True),
}
KEEPS: dict[str, Callable[[Operation], Any]] = {
    "nothing": lambda _: None,
    "a field comes": lambda at: at.told["properties"].update(colour={"type": "string"}),
    "one may be sent": lambda at: at.asked["properties"].update(colour={"type": "string"}),
    "less must be sent": lambda at: at.asked["required"].clear(),
    "more is taken": lambda at: at.asked["properties"]["number"].update(maxLength=40),
    "a word comes": lambda at: at.told["properties"]["kind"]["enum"].append("roof"),
    "never null": lambda at: at.told["properties"]["note"].update(type="string"),
    "a parameter comes": lambda at: at.op["parameters"].append({"in": "query", "name": "site", "schema": {}}),
    "an answer comes": lambda at: at.op["responses"].update({"503": {}}),
}


@pytest.mark.parametrize("change", BREAKS.values(), ids=BREAKS)
def test_what_breaks_a_program_is_found(change: Callable[[Operation], Any]) -> None:
    assert len(changed(change)) == 1


@pytest.mark.parametrize("change", KEEPS.values(), ids=KEEPS)
def test_what_breaks_none_passes(change: Callable[[Operation], Any]) -> None:
    assert changed(change) == []


def test_a_path_that_is_gone_is_found() -> None:
    assert list(api_faults(API, API | {"paths": {}})) == ["post /doors/: is gone"]


def test_a_form_of_the_command_that_is_gone_or_asks_more_is_found() -> None:
    old: Node = {"$defs": {"pin_input": DOOR, "pin_output": DOOR}}
    new: Node = {"$defs": {"pin_input": DOOR | {"required": ["number", "note"]}}}
    assert list(command_faults(old, new)) == ["pin_input.note: must now be sent", "pin_output: is gone"]
