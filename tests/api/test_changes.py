"""The feed over HTTP: what a program that keeps a copy has to do, scopes, sites and its problem."""

from typing import Any

import pytest
from django.db import connection

from keyctl.api.models import Scope
from keyctl.feed.kinds import KINDS
from keyctl.feed.services import begin_anew
from keyctl.places.models import Building, Door
from tests.api.client import Api, make_api, problem
from tests.api.estate import NAME, Estate
from tests.cast import Cast
from tests.factories import make_door
from tests.keyctl.feed.reading import number_what_waits


def read_all(api: Api, **query: Any) -> tuple[list[dict[str, Any]], str]:
    """The rows of every page, and the place to go on from."""
    number_what_waits()
    answer = api.get("changes/", **query)
    rows: list[dict[str, Any]] = []
    while True:
        body = answer.json()
        assert answer.status_code == 200, body
        assert body.keys() == {"results", "next", "since"}
        rows += body["results"]
        if body["next"] is None:
            assert "Link" not in answer
            return rows, body["since"]
        assert answer["Link"] == f'<{body["next"]}>; rel="next"'
        answer = api.follow(body["next"])


def test_the_copy_of_a_program_is_what_the_lists_say(api: Api, estate: Estate) -> None:
    rows, since = read_all(api, limit=4)
    assert {row["kind"] for row in rows} == KINDS.keys()
    for row in rows:
        assert (row["deleted"], row["site"]) == (False, str(estate.site.pk))
        assert api.follow(row["url"]).json()["id"] == row["id"]
    for kind, path in (("door", "doors/"), ("key", "keys/"), ("work-order", "work-orders/")):
        assert {row["id"] for row in rows if row["kind"] == kind} == set(api.ids(path, limit=200))
    Door.objects.filter(pk=estate.door.pk).update(name="Boiler room")
    [changed], since = read_all(api, since=since)
    assert (changed["kind"], changed["id"]) == ("door", str(estate.door.pk))
    assert changed["sequence"] > rows[-1]["sequence"]
    assert read_all(api, since=since)[0] == []


def test_what_is_gone_or_has_moved_away_is_deleted(cast: Cast, api: Api, foreign: Api) -> None:
    gone, moved = make_door(cast.north), make_door(cast.north)
    _, since = read_all(api)
    _, theirs = read_all(foreign)
    pk, building = str(gone.pk), moved.building
    gone.delete()
    Building.objects.filter(pk=building.pk).update(site=cast.south)
    rows, _ = read_all(api, since=since)
    assert {row["id"]: (row["deleted"], row["url"]) for row in rows if row["kind"] == "door"} == {
        pk: (True, None),
        str(moved.pk): (True, None),
    }
    assert {row["site"] for row in rows} == {str(cast.north.pk)}
    arrived, _ = read_all(foreign, since=theirs)
    assert {row["kind"] for row in arrived} == {"building", "floor", "door"}
    assert not any(row["deleted"] for row in arrived)
    assert pk not in {row["id"] for row in arrived}


SCOPED = {
    Scope.ESTATE_READ: {"site", "building", "floor", "space", "door", "housing", "core"},
    Scope.KEYS_READ: {"key-system", "key", "cabinet", "key-copy"},
    Scope.HOLDERS_READ: {"holder"},
    Scope.REQUESTS_READ: {"request"},
    Scope.ORDERS_READ: {"work-order"},
    Scope.ORDERS_WRITE: set[str](),
}


@pytest.mark.parametrize("scope", SCOPED)
def test_a_token_is_told_of_what_it_may_read(scope: Scope, cast: Cast, estate: Estate) -> None:
    api = make_api(cast.administrator, cast.north, scopes=[scope])
    rows, _ = read_all(api)
    assert {row["kind"] for row in rows} == SCOPED[scope]
    for kind in KINDS:
        answer = api.get("changes/", kinds=kind)
        if kind in SCOPED[scope]:
            assert {row["kind"] for row in answer.json()["results"]} <= {kind}
        else:
            body = problem(answer, 403, "forbidden")
            assert "does not carry the scope" in body["detail"]


def test_rows_hold_names_of_nobody(api: Api, estate: Estate) -> None:
    number_what_waits()
    assert NAME not in api.get("changes/", limit=200).content.decode()


def test_who_cannot_be_brought_up_to_date_begins_anew(cast: Cast, api: Api, foreign: Api) -> None:
    make_door(cast.north)
    _, since = read_all(api)
    problem(foreign.get("changes/", since=since), 410, "feed-begins-anew")
    problem(api.get("changes/", since=since, kinds="door"), 410, "feed-begins-anew")
    begin_anew(connection)
    body = problem(api.get("changes/", since=since), 410, "feed-begins-anew")
    assert "Ask without since" in body["detail"]
    assert read_all(api)[0]


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ({"since": "yesterday"}, "since"),
        ({"kinds": "door,lock"}, "kinds"),
        ({"limit": "0"}, "limit"),
        ({"limit": "201"}, "limit"),
        ({"site": "x"}, "site"),
    ],
)
def test_what_does_not_fit_is_told_by_its_place(query: dict[str, str], parameter: str, api: Api) -> None:
    body = problem(api.get("changes/", **query), 400, "invalid")
    assert [error["parameter"] for error in body["errors"]] == [parameter]
