"""Searching over REST: what a token reads and nothing else, held against asking for each thing itself."""

import pytest
from django.urls import reverse

from keyctl.api.models import Scope
from keyctl.places.models import Door
from keyctl.places.roles import Role
from tests.api.client import ROOT, Api, make_api, problem
from tests.api.estate import NAME, Estate, build
from tests.cast import Cast
from tests.factories import make_user

READS: list[Scope] = [
    Scope.ESTATE_READ,
    Scope.KEYS_READ,
    Scope.HOLDERS_READ,
    Scope.REQUESTS_READ,
    Scope.ORDERS_READ,
]


@pytest.fixture
def estate(cast: Cast) -> Estate:
    return build(cast.north, cast.locksmith)


def typed(estate: Estate) -> dict[str, tuple[object, str]]:
    return {
        "door": (estate.door.pk, estate.door.number),
        "space": (estate.space.pk, estate.space.number),
        "building": (estate.door.building.pk, estate.door.building.name),
        "core": (estate.core.pk, estate.core.tag),
        "key": (estate.key.pk, estate.key.symbol),
        "key-copy": (estate.copy.pk, estate.copy.serial),
        "key-system": (estate.system.pk, estate.system.code),
        "cabinet": (estate.cabinet.pk, estate.cabinet.tag),
        "holder": (estate.holder.pk, NAME),
        "work-order": (estate.order.pk, f"{estate.order.number}"),
        "request": (estate.request.pk, NAME),
    }


def found(api: Api, text: str) -> list[tuple[str, str]]:
    answer = api.get("search/", q=text)
    assert answer.status_code == 200, answer.content
    return [(row["kind"], row["id"]) for row in answer.json()["results"]]


def test_each_thing_is_found_with_the_address_at_which_it_is_read(cast: Cast, estate: Estate) -> None:
    api = make_api(cast.administrator, cast.north, scopes=READS)
    for kind, (pk, text) in typed(estate).items():
        rows = api.get("search/", q=text, kinds=kind).json()["results"]
        (row,) = [row for row in rows if row["id"] == str(pk)]
        assert row["url"].endswith(reverse(f"api:{kind}", args=[pk]))
        assert api.get(row["url"].split(ROOT)[1]).json()["id"] == str(pk)


def test_a_token_finds_what_its_scopes_read(cast: Cast, estate: Estate) -> None:
    for scope in READS:
        api = make_api(cast.administrator, cast.north, scopes=[scope])
        for kind, (pk, text) in typed(estate).items():
            reads = api.get(reverse(f"api:{kind}", args=[pk]).split(ROOT)[1]).status_code == 200
            # A request is found by a name, which this token may not search by.
            wanted = reads and kind != "request"
            assert ((kind, str(pk)) in found(api, text)) == wanted, (scope, kind)
    api = make_api(cast.administrator, cast.north, scopes=[Scope.ESTATE_READ])
    assert api.get("search/", q="a", kinds="holder").status_code == 403


def test_nothing_of_another_site_is_found(cast: Cast, estate: Estate) -> None:
    administrator = make_user("south", site=cast.south, role=Role.ADMINISTRATOR)
    stranger = make_api(administrator, cast.south, scopes=READS)
    for _, text in typed(estate).values():
        assert found(stranger, text) == []


def test_what_was_just_made_and_renamed_over_rest_is_found_at_once(cast: Cast, estate: Estate) -> None:
    api = make_api(cast.administrator, cast.north, scopes=[Scope.ESTATE_READ, Scope.ESTATE_WRITE])
    made = api.post("doors/", {"floor": str(estate.door.floor.pk), "number": "7.77", "name": "Boathouse"})
    assert made.status_code == 201, made.content
    assert found(api, "boathuose") == [("door", made.json()["id"])]
    Door.objects.filter(pk=made.json()["id"]).update(name="Orangery")
    assert found(api, "boathouse") == []
    assert found(api, "orangery") == [("door", made.json()["id"])]


def test_a_wrong_question_is_refused(cast: Cast, estate: Estate) -> None:
    api = make_api(cast.administrator, cast.north, scopes=READS)
    queries: list[dict[str, object]] = [{"kinds": "lock"}, {"limit": 201}, {"q": "x" * 201}, {"p": "1"}]
    for query in queries:
        problem(api.get("search/", **query), 400, "invalid")
    assert found(api, "") == found(api, "%_") == []
