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
from tests.api.walk import addresses, description, details
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
    assert len(walked) == 13


def test_no_answer_to_a_new_order_holds_one(api: Api, estate: Estate, canaries: set[str]) -> None:
    for housing in (estate.housing, make_housing(estate.site)):
        body = {"kind": "swap", "site": str(estate.site.pk), "title": "x", "housings": [str(housing.pk)]}
        assert not leaks(api.post("work-orders/", body).content.decode(), canaries)


def test_no_answer_is_described_to_hold_one() -> None:
    schemas = description()["components"]["schemas"]
    described = {name for schema in schemas.values() for name in schema.get("properties", {})}
    assert not described & SECRET_NAMES
    assert "tag" in described


def test_nothing_of_another_site_is_found_at_any_address(foreign: Api, estate: Estate) -> None:
    walked = details(estate)
    for path in walked:
        problem(foreign.get(path), 404, "not-found")
    assert len(walked) == 7


def test_nothing_of_another_site_is_in_any_list(foreign: Api, estate: Estate) -> None:
    for path in set(addresses(estate)) - set(details(estate)):
        assert foreign.ids(path) == foreign.ids("sites/") if path == "sites/" else foreign.ids(path) == []


def test_without_a_token_no_address_answers(estate: Estate) -> None:
    for path in addresses(estate):
        problem(Api(client=Client()).get(path), 401, "not-authenticated")
