"""A token does what its scopes say and nothing else."""

import pytest

from keyctl.api.models import Scope
from tests.api.client import SCOPES, Api, make_api, problem
from tests.api.estate import Estate
from tests.cast import Cast

ESTATE = ["sites/", "buildings/", "doors/", "housings/", "cores/"]
KEYS = ["key-systems/", "keys/", "cabinets/", "key-copies/"]
READS = [
    *((path, Scope.ESTATE_READ) for path in ESTATE),
    *((path, Scope.KEYS_READ) for path in KEYS),
    ("holders/", Scope.HOLDERS_READ),
    ("requests/", Scope.REQUESTS_READ),
    ("work-orders/", Scope.ORDERS_READ),
    ("events/", Scope.EVENTS_READ),
]
WRITES = [
    ("key-copies/", Scope.KEYS_WRITE),
    ("key-copies/bulk/", Scope.KEYS_WRITE),
    ("holders/", Scope.HOLDERS_WRITE),
    ("requests/", Scope.REQUESTS_WRITE),
    ("work-orders/", Scope.ORDERS_WRITE),
]


@pytest.mark.parametrize(("path", "scope"), READS)
def test_reading_needs_its_scope(cast: Cast, path: str, scope: Scope) -> None:
    others: list[Scope] = [other for other in SCOPES if other != scope]
    response = make_api(cast.administrator, cast.north, scopes=others).get(path)
    assert scope.value in problem(response, 403, "forbidden")["detail"]
    assert response["WWW-Authenticate"].endswith(f'error="insufficient_scope", scope="{scope.value}"')


@pytest.mark.parametrize(("path", "scope"), READS)
def test_its_scope_alone_is_enough(cast: Cast, path: str, scope: Scope) -> None:
    assert make_api(cast.administrator, cast.north, scopes=[scope]).get(path).status_code == 200


@pytest.mark.parametrize(("path", "scope"), WRITES)
def test_writing_needs_its_scope(cast: Cast, path: str, scope: Scope) -> None:
    others = [other for other in SCOPES if other != scope]
    answer = make_api(cast.administrator, cast.north, scopes=others).post(path, {})
    assert scope.value in problem(answer, 403, "forbidden")["detail"]


def test_a_missing_scope_is_told_before_whether_the_thing_exists(cast: Cast, estate: Estate) -> None:
    reader = make_api(cast.administrator, cast.north, scopes=[Scope.ORDERS_READ])
    problem(reader.get(f"doors/{estate.door.pk}/openers/"), 403, "forbidden")


def test_head_needs_the_same_scope_as_get(cast: Cast) -> None:
    writer = make_api(cast.administrator, cast.north, scopes=[Scope.ORDERS_WRITE])
    assert writer.send("HEAD", "doors/").status_code == 403


def test_head_answers_like_get(api: Api) -> None:
    assert api.send("HEAD", "doors/").status_code == 200
