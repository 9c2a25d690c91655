"""No answer of any resource holds a bitting or a pin, and none tells a stranger that a thing exists."""

import json
import re
from typing import Any

import pytest
from django.test import Client

from keyctl.systems.services import bitting_of
from keyctl.vault.services import unseal
from tests.api.client import Api, problem
from tests.api.estate import Estate
from tests.api.walk import addresses, description, details, known
from tests.factories import make_housing

SECRET_NAMES = {
    "bitting",
    "bittings",
    "pinning",
    "pins",
    "pin",
    "stack",
    "stacks",
    "cuts",
    "design",
    "fingerprint",
}
# How a core is pinned, for a token that reads nothing else, behind the gate.
MEANT = {"CorePins", "Stack"}
# Random signs of an identifier may happen to hold a run of digits that is somebody's bitting.
UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")


@pytest.fixture
def canaries(estate: Estate) -> set[str]:
    """Every bitting of the system, the parameters it was drawn with, and both cores' pins."""
    texts = {bitting_of(symbol) for symbol in estate.system.symbols.all()}
    texts |= {unseal(core, "pinning") for core in (estate.core, estate.spare)}
    return texts | {unseal(estate.system, "design")}


def leaks(text: str, canaries: set[str]) -> set[str]:
    bare = UUID.sub("", text)
    return {secret for secret in canaries if secret in bare or json.dumps(secret)[1:-1] in bare}


def names_in(body: Any) -> set[str]:
    if isinstance(body, dict):
        return set(body).union(*(names_in(value) for value in body.values()))
    return set().union(*(names_in(value) for value in body)) if isinstance(body, list) else set()


def test_the_canaries_are_real_bittings(canaries: set[str]) -> None:
    assert len([text for text in canaries if re.fullmatch(r"\d{7}", text)]) >= 7


def test_the_search_finds_each_of_them_where_it_is_planted(canaries: set[str]) -> None:
    for planted in canaries:
        assert leaks(json.dumps({"note": f"cut {planted}."}), canaries) >= {planted}


def test_no_answer_holds_a_bitting_or_a_pin(api: Api, estate: Estate, canaries: set[str]) -> None:
    walked = list(addresses(estate))
    for path in walked:
        response = api.get(path)
        assert response.status_code == 200, path
        assert not leaks(response.content.decode(), canaries), path
        assert not names_in(response.json()) & SECRET_NAMES, path
    assert len(walked) > 30


def test_no_answer_to_a_new_order_holds_one(api: Api, estate: Estate, canaries: set[str]) -> None:
    for housing in (estate.housing, make_housing(estate.site)):
        body = {"kind": "swap", "site": str(estate.site.pk), "title": "x", "housings": [str(housing.pk)]}
        assert not leaks(api.post("work-orders/", body).content.decode(), canaries)


def test_no_answer_is_described_to_hold_one() -> None:
    schemas = description()["components"]["schemas"]
    described = {
        name: set(schema.get("properties", {})) for name, schema in schemas.items() if name not in MEANT
    }
    assert not {name: found & SECRET_NAMES for name, found in described.items() if found & SECRET_NAMES}
    assert "tag" in described["Core"]


def test_pins_stand_in_one_answer_alone() -> None:
    """That of the POST behind the gate (test_pins.py)."""
    holding = {
        f"{method} {path}"
        for path, operations in description()["paths"].items()
        for method, operation in operations.items()
        if any(name in json.dumps(operation["responses"]) for name in ("/CorePins", "/Stack"))
    }
    assert holding == {"post /api/v1/cores/{id}/pinning/"}


def test_nothing_of_another_site_is_found_at_any_address(foreign: Api, estate: Estate) -> None:
    walked = details(estate)
    for path in walked:
        problem(foreign.get(path), 404, "not-found")
    assert len(walked) > 15


def test_nothing_of_another_site_is_in_any_list(api: Api, foreign: Api, estate: Estate) -> None:
    ids = {str(pk) for name, pk in known(estate).items() if pk and name != "events"}
    lists = set(addresses(estate)) - set(details(estate))
    for path in lists:
        text = foreign.get(path).content.decode()
        assert not [pk for pk in ids if pk in text], path
    assert len(lists) > 12
    mine = "".join(api.get(path, limit=200).content.decode() for path in lists if path != "changes/")
    assert not [pk for pk in ids if pk not in mine]


def test_without_a_token_no_address_answers(estate: Estate) -> None:
    for path in addresses(estate):
        problem(Api(client=Client()).get(path), 401, "not-authenticated")
