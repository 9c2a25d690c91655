"""Many at once: each is made or refused by itself, and told by itself."""

from typing import Any

import pytest
from django.db import OperationalError

from keyctl.api.views.wording import MOST_ITEMS
from keyctl.places.models import Building
from tests.api.client import Api, problem
from tests.api.things import BULK, DETAIL, LIST, Things, ask, body_of, new_key
from tests.cast import Cast


@pytest.fixture
def bearer(api: Api) -> str:
    return api.bearer or ""


def item(cast: Cast, code: str, **changed: Any) -> dict[str, Any]:
    return {"site": str(cast.north.pk), "code": code, "name": f"House {code}"} | changed


def send(bearer: str, items: Any, key: str = "") -> Any:
    return ask(bearer, BULK, "POST", {"items": items}, idempotency_key=key or new_key())


def test_each_is_told_in_its_place(bearer: str, cast: Cast) -> None:
    items = [
        item(cast, "A"),
        item(cast, "B", name="refused"),
        item(cast, "C", colour="red"),
        item(cast, "D", site=str(cast.south.pk)),
        item(cast, "E"),
        "no item",
    ]
    response = send(bearer, items)
    answer = body_of(response)
    assert response.status_code == 200
    assert [each["index"] for each in answer["results"]] == [0, 1, 2, 3, 4, 5]
    assert [each["status"] for each in answer["results"]] == [201, 422, 400, 400, 201, 400]
    assert (answer["done"], answer["refused"]) == (2, 4)
    assert set(Building.objects.values_list("code", flat=True)) == {"A", "E"}


def test_what_was_made_is_told_as_if_it_had_come_alone(bearer: str, cast: Cast) -> None:
    (told,) = body_of(send(bearer, [item(cast, "A")]))["results"]
    alone = ask(bearer, LIST, "POST", item(cast, "B"))
    assert set(told["value"]) == set(body_of(alone))
    again = ask(bearer, DETAIL, "GET", pk=told["value"]["id"])
    assert told["etag"] == again["ETag"]
    assert told["value"] == body_of(again)
    assert told["location"].endswith(f"/api/v1/buildings/{told['value']['id']}/")


def test_what_was_refused_is_a_problem_whose_pointers_lead_through_the_whole_body(
    bearer: str, cast: Cast
) -> None:
    bad = item(cast, "B", name="x" * 81)
    _, told = body_of(send(bearer, [item(cast, "A"), bad]))["results"]
    assert told["problem"]["type"].endswith("/problems/invalid/")
    assert told["problem"]["status"] == told["status"] == 400
    assert [error["pointer"] for error in told["problem"]["errors"]] == ["#/items/1/name"]


def test_all_of_it_comes_back_when_it_is_sent_again(bearer: str, cast: Cast) -> None:
    key, items = new_key(), [item(cast, "A"), item(cast, "B", name="refused")]
    first = send(bearer, items, key)
    assert send(bearer, items, key).content == first.content
    assert Building.objects.count() == 1


@pytest.mark.parametrize("items", [[], {}, "x", None, [{}] * (MOST_ITEMS + 1)], ids=str)
def test_there_is_one_at_least_and_a_bound(bearer: str, items: Any) -> None:
    told = problem(send(bearer, items), 400, "invalid")
    assert [error["pointer"] for error in told["errors"]] == ["#/items"]
    assert not Building.objects.exists()


@pytest.mark.parametrize("body", [[], {"things": []}, {"items": [{}], "more": 1}, "x"])
def test_another_body_is_refused(bearer: str, body: Any) -> None:
    problem(ask(bearer, BULK, "POST", body, idempotency_key=new_key()), 400, "invalid")


def test_an_error_of_ours_undoes_all(bearer: str, cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Things.make

    def break_at_b(self: Any, facts: Any) -> Building:
        if facts["code"] == "B":
            raise OperationalError("disk I/O error")
        return real(self, facts)

    monkeypatch.setattr(Things, "make", break_at_b)
    with pytest.raises(OperationalError):
        send(bearer, [item(cast, "A"), item(cast, "B")])
    assert not Building.objects.exists()
