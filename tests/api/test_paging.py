"""Cursor pages: nothing twice, nothing left out, and no limit that is quietly cut."""

from urllib.parse import parse_qs, urlsplit

import pytest

from keyctl.api.paging import DEFAULT_LIMIT, MAX_LIMIT
from keyctl.places.models import Door
from tests.api.client import Api, problem
from tests.api.estate import make_swap
from tests.cast import Cast
from tests.factories import make_door, make_floor, make_housing


@pytest.fixture
def doors(cast: Cast) -> list[Door]:
    floor = make_floor(cast.north)
    return [make_door(floor=floor, name="Store") for _ in range(7)]


def walk(api: Api, path: str, **query: object) -> list[list[str]]:
    """Every page's ids, following next."""
    response = api.get(path, **query)
    pages = [[row["id"] for row in response.json()["results"]]]
    while url := response.json()["next"]:
        response = api.follow(url)
        pages.append([row["id"] for row in response.json()["results"]])
    return pages


def test_the_pages_together_are_the_whole(api: Api, doors: list[Door]) -> None:
    pages = walk(api, "doors/", limit=3)
    assert [len(page) for page in pages] == [3, 3, 1]
    assert sorted(pk for page in pages for pk in page) == sorted(str(door.pk) for door in doors)


def test_a_full_last_page_has_no_next(api: Api, doors: list[Door]) -> None:
    assert [len(page) for page in walk(api, "doors/", limit=7)] == [7]


def test_a_door_that_disappears_between_pages_hides_no_other(api: Api, doors: list[Door]) -> None:
    first = api.get("doors/", limit=3).json()
    Door.objects.get(pk=first["results"][0]["id"]).delete()
    rest = api.follow(first["next"]).json()["results"]
    seen = {row["id"] for row in [*first["results"], *rest]}
    assert {str(door.pk) for door in doors} - seen == {
        row["id"] for row in api.get("doors/").json()["results"]
    } - seen
    assert len(rest) == 3


def test_next_keeps_the_filters_and_the_limit(api: Api, doors: list[Door]) -> None:
    query = parse_qs(urlsplit(api.get("doors/", limit=3, q="store").json()["next"] or "").query)
    assert query.keys() == {"limit", "q", "cursor"}


def test_the_link_header_says_the_same_as_next(api: Api, doors: list[Door]) -> None:
    response = api.get("doors/", limit=3)
    assert response["Link"] == f'<{response.json()["next"]}>; rel="next"'  # RFC 8288


def test_the_last_page_has_no_link_header(api: Api, doors: list[Door]) -> None:
    assert not api.get("doors/").has_header("Link")


def test_without_a_limit_a_page_has_the_documented_size(api: Api, cast: Cast) -> None:
    floor = make_floor(cast.north)
    for _ in range(DEFAULT_LIMIT + 1):
        make_door(floor=floor)
    assert len(api.ids("doors/")) == DEFAULT_LIMIT


def test_the_maximum_itself_is_allowed(api: Api) -> None:
    assert api.get("doors/", limit=MAX_LIMIT).status_code == 200


@pytest.mark.parametrize("limit", [MAX_LIMIT + 1, 10**30, 0, -1, "many", "", "²"])
def test_a_limit_out_of_range_is_refused(api: Api, limit: object) -> None:
    body = problem(api.get("doors/", limit=limit), 400, "invalid")
    assert body["errors"] == [
        {"detail": f"Write a whole number from 1 to {MAX_LIMIT}.", "parameter": "limit"}
    ]


@pytest.mark.parametrize("cursor", ["", "?", "AAAA", "x" * 5, "ÿ", "bm90IGFuIGlk"])
def test_a_cursor_that_is_not_ours_is_refused(api: Api, cursor: str) -> None:
    body = problem(api.get("doors/", cursor=cursor), 400, "invalid")
    assert [error["parameter"] for error in body["errors"]] == ["cursor"]


def test_orders_are_paged_by_number(api: Api, cast: Cast) -> None:
    orders = [make_swap(cast.north, make_housing(cast.north), cast.locksmith) for _ in range(5)]
    assert walk(api, "work-orders/", limit=2) == [
        [str(order.pk) for order in orders[start : start + 2]] for start in (0, 2, 4)
    ]
