"""A page that is walked to holds the rows of one that is gathered and sorted: the plain query judges."""

import pytest
from django.db import connection
from django.db.models import QuerySet

from keyctl.api import selectors, walking
from keyctl.api.walking import is_many, page_of
from keyctl.places.models import Door, Membership
from tests.api.client import Api
from tests.api.estate import Estate
from tests.cast import Cast
from tests.factories import make_door, make_floor


@pytest.fixture
def doors(cast: Cast) -> QuerySet[Door]:
    """Twelve at two sites, mixed by their ids; the administrator of the north sees seven."""
    north, south = make_floor(cast.north), make_floor(cast.south)
    for nth in range(12):
        make_door(floor=north if nth % 12 in {0, 1, 3, 4, 7, 8, 11} else south)
    return selectors.doors(cast.administrator, {})


def pages(rows: QuerySet[Door]) -> list[list[Door]]:
    found: list[list[Door]] = []
    after: dict[str, object] = {}
    while page := list(page_of(rows, "id", after, 3)):
        found.append(page)
        after = {"id__gt": page[-1].pk}
    return found


@pytest.mark.parametrize("many", [0, 6, 7, 2000])
def test_walked_or_gathered_the_rows_are_the_same(
    doors: QuerySet[Door], monkeypatch: pytest.MonkeyPatch, many: int
) -> None:
    monkeypatch.setattr(walking, "MANY", many)
    assert is_many(doors) == (many < 7)
    found = pages(doors)
    assert [row for page in found for row in page] == sorted(doors, key=lambda door: door.pk)
    assert [len(page) for page in found] == [3, 3, 1]


def test_a_narrowed_list_is_walked_too(
    doors: QuerySet[Door], cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(walking, "MANY", 0)
    wanted = sorted(doors, key=lambda door: door.pk)[4]
    narrowed = selectors.doors(cast.administrator, {"number": wanted.number})
    assert pages(narrowed) == [[wanted]]


def test_whose_reach_ends_is_shown_nothing(
    doors: QuerySet[Door], cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(walking, "MANY", 0)
    Membership.objects.filter(user=cast.administrator).delete()
    assert pages(selectors.doors(cast.administrator, {})) == []


@pytest.mark.parametrize(
    "path", ["floors/", "spaces/", "doors/", "housings/", "cores/", "keys/", "key-copies/", "events/"]
)
def test_the_lists_answer_the_same(
    api: Api, estate: Estate, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    gathered = api.get(path).json()
    monkeypatch.setattr(walking, "MANY", 0)
    assert api.get(path).json() == gathered
    assert gathered["results"]


def test_a_walk_asks_along_the_ids(doors: QuerySet[Door]) -> None:
    """What SQLite itself says of its plan: no sorting of all that is reached."""
    if connection.vendor != "sqlite":
        pytest.skip("the other database knows how much a condition lets through")
    walked = Door.objects.filter(walking.reached(doors)).order_by("id")[:3]
    assert "TEMP B-TREE" in doors.order_by("id")[:3].explain()
    assert "TEMP B-TREE" not in walked.explain()
