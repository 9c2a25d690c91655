"""The published description: valid OpenAPI 3.1, the same as the committed copy, and true to the answers."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator
from referencing import Registry
from referencing.jsonschema import DRAFT202012

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


def test_every_operation_names_its_scope_and_its_problems(served: dict[str, Any]) -> None:
    for operations in served["paths"].values():
        for operation in operations.values():
            assert operation["security"][0]["token"] in (["estate:read"], ["orders:read"], ["orders:write"])
            refusals = {status for status in operation["responses"] if status.startswith("4")}
            assert {"401", "403", "406"} <= refusals
            assert all(list(operation["responses"][status]["content"]) == [PROBLEM] for status in refusals)


def test_every_list_tells_its_largest_page(served: dict[str, Any]) -> None:
    lists = [path for path in served["paths"] if path.count("/") == 4]
    for path in lists:
        limit = next(each for each in served["paths"][path]["get"]["parameters"] if each["name"] == "limit")
        assert limit["schema"]["maximum"] == MAX_LIMIT
    assert len(lists) == 6


def validator(reference: str) -> Draft202012Validator:
    """JSON Schema 2020-12, which OpenAPI 3.1 uses as it stands."""
    registry = Registry().with_resource("urn:api", DRAFT202012.create_resource(description()))
    return Draft202012Validator(
        {"$ref": f"urn:api{reference}"}, registry=registry, format_checker=Draft202012Validator.FORMAT_CHECKER
    )


def reference_of(operation: dict[str, Any], status: str, media_type: str) -> str:
    found: str = operation["responses"][status]["content"][media_type]["schema"]["$ref"]
    return found


def test_every_answer_is_as_described(api: Api, estate: Estate) -> None:
    for template, path in zip(description()["paths"], addresses(estate), strict=True):
        operation = description()["paths"][template]["get"]
        check = validator(reference_of(operation, "200", "application/json"))
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
