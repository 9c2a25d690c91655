"""The published description: valid OpenAPI 3.1, the same as the committed copy, and true to the answers."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator
from referencing import Registry
from referencing.jsonschema import DRAFT202012

from keyctl.api.models import Scope
from keyctl.api.paging import MAX_LIMIT
from tests.api.client import ROOT, Api
from tests.api.estate import Estate
from tests.api.walk import addresses, description, known

COPY = Path(__file__).with_name("openapi.json")
RENEW = "manage.py spectacular --format openapi-json --file tests/api/openapi.json"
PROBLEM = "application/problem+json"


@pytest.fixture
def served(db: None) -> dict[str, Any]:
    """As anybody gets it: without a token."""
    response = Client().get(ROOT + "schema/", headers={"accept": "application/json"})
    assert response.status_code == 200
    body: dict[str, Any] = response.json()
    return body


def test_it_is_valid_openapi_3_1(served: dict[str, Any]) -> None:
    assert served["openapi"].startswith("3.1")
    assert list(OpenAPIV31SpecValidator(served).iter_errors()) == []


def test_the_committed_copy_is_the_served_description(served: dict[str, Any]) -> None:
    same = json.loads(COPY.read_text()) == served
    assert same, f"The API has changed. If that was meant, renew the copy: {RENEW}"


def operations(served: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in served["paths"].items():
        for method, operation in methods.items():
            yield path, method, operation


def test_every_operation_names_its_scope_and_its_problems(served: dict[str, Any]) -> None:
    shared = served["components"]["responses"]
    for path, _, operation in operations(served):
        (scope,) = operation["security"][0]["token"] or [""]
        assert scope in Scope.values or path in {f"{ROOT}changes/", f"{ROOT}search/"}
        refusals = {status for status in operation["responses"] if status.startswith("4")}
        assert {"401", "403", "406", "429"} <= refusals
        for status in refusals:
            name = operation["responses"][status]["$ref"].removeprefix("#/components/responses/")
            assert list(shared[name]["content"]) == [PROBLEM]
            assert name == f"Problem{status}"


def headers(operation: dict[str, Any]) -> dict[str, bool]:
    """What a request may carry, and whether it must."""
    parameters = operation.get("parameters", [])
    return {each["name"]: each.get("required", False) for each in parameters if each["in"] == "header"}


def test_every_change_wants_a_tag_and_every_detail_gives_one(served: dict[str, Any]) -> None:
    for path, method, operation in operations(served):
        is_detail = path.endswith(("{id}/", "{number}/"))
        if method in {"patch", "delete"}:
            assert headers(operation)["If-Match"], path
            assert {"412", "428"} <= set(operation["responses"])
        if method == "get" and is_detail:
            assert "If-None-Match" in headers(operation), path
            assert "ETag" in operation["responses"]["200"]["headers"]
            assert "304" in operation["responses"]


def test_every_write_takes_a_key_and_those_of_many_want_one(served: dict[str, Any]) -> None:
    """But for looks at pins, whose answers are never kept."""
    for path, method, operation in operations(served):
        is_look = "pinning" in path
        assert ("Idempotency-Key" in headers(operation)) == (method != "get" and not is_look), path
        assert headers(operation).get("Idempotency-Key", False) == path.endswith("/bulk/"), path


def test_every_answer_tells_what_the_token_has_left(served: dict[str, Any]) -> None:
    shared = served["components"]["responses"]
    for _, _, operation in operations(served):
        for response in operation["responses"].values():
            told = shared[response["$ref"].rsplit("/", 1)[1]] if "$ref" in response else response
            assert {"RateLimit", "RateLimit-Policy"} <= set(told["headers"])


def test_fields_are_named_as_the_rows_have_them(served: dict[str, Any]) -> None:
    schemas, seen = served["components"]["schemas"], 0
    for name, schema in schemas.items():
        if name.endswith("Field") and name.removesuffix("Field") in schemas:
            whole, part = schemas[name.removesuffix("Field")], schemas[f"{name.removesuffix('Field')}Part"]
            assert set(schema["enum"]) == set(whole["properties"]) == set(part["properties"])
            assert "required" in whole
            assert "required" not in part
            seen += 1
    assert seen >= 13


def test_every_list_tells_its_largest_page(served: dict[str, Any]) -> None:
    lists = [path for path in served["paths"] if path.count("/") == 4]
    for path in lists:
        limit = next(each for each in served["paths"][path]["get"]["parameters"] if each["name"] == "limit")
        assert limit["schema"]["maximum"] == MAX_LIMIT
    assert len(lists) >= 16


def validator(reference: str) -> Draft202012Validator:
    """JSON Schema 2020-12, which OpenAPI 3.1 uses as it stands."""
    registry = Registry().with_resource("urn:api", DRAFT202012.create_resource(description()))
    return Draft202012Validator(
        {"$ref": f"urn:api{reference}"}, registry=registry, format_checker=Draft202012Validator.FORMAT_CHECKER
    )


def reference_of(operation: dict[str, Any]) -> str:
    """The whole representation, where a part of it may be asked for."""
    schema = operation["responses"]["200"]["content"]["application/json"]["schema"]
    found: str = schema["anyOf"][0]["$ref"] if "anyOf" in schema else schema["$ref"]
    return found


def test_every_answer_is_as_described(api: Api, estate: Estate) -> None:
    reads = [methods["get"] for methods in description()["paths"].values() if "get" in methods]
    for operation, path in zip(reads, addresses(estate), strict=True):
        check = validator(reference_of(operation))
        assert list(check.iter_errors(api.get(path).json())) == [], path


def test_the_check_finds_an_answer_that_is_not_as_described(api: Api, estate: Estate) -> None:
    answer = api.get(f"doors/{known(estate)['doors']}/").json() | {"is_egress": "perhaps"}
    assert list(validator("#/components/schemas/Door").iter_errors(answer))


def test_a_problem_is_as_described(api: Api) -> None:
    answer = api.get("doors/", limit=0, bilding="x").json()
    assert list(validator("#/components/schemas/Problem").iter_errors(answer)) == []


def test_a_new_order_is_described_by_its_kind(cast: object) -> None:
    check = validator("#/components/schemas/NewWorkOrder")
    swap = {"kind": "swap", "site": "0" * 8 + "-0000-4000-8000-" + "0" * 12, "title": "x"}
    assert list(check.iter_errors(swap | {"housings": [swap["site"]]})) == []
    assert list(check.iter_errors(swap | {"cores": [swap["site"]]}))
