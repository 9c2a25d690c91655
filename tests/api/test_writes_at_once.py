"""Programs that write at the same moment, each on its own connection: what was promised holds then too."""

from functools import partial
from threading import Event as Signal
from typing import Any
from unittest.mock import patch

import pytest
from django.test import Client

from keyctl.api import once, quota
from keyctl.api.models import KeptAnswer, Token, Usage
from keyctl.places.models import Building, Door
from tests.api.client import Api, make_api
from tests.api.things import LIST, ask, new_key
from tests.cast import Cast
from tests.factories import make_door
from tests.together import at_once

pytestmark = pytest.mark.django_db(transaction=True)


def test_of_changes_with_one_tag_exactly_one_is_done(cast: Cast) -> None:
    api, door = make_api(cast.administrator, cast.north), make_door(cast.north)
    path = f"doors/{door.pk}/"
    tag = api.get(path)["ETag"]

    def change(name: str) -> Any:
        return Api(api.bearer, Client()).patch(path, {"name": name}, match=tag)

    answers = at_once(*(partial(change, f"Name {n}") for n in range(4)))
    assert sorted(each.status_code for each in answers) == [200, 412, 412, 412]
    (done,) = (each.json() for each in answers if each.status_code == 200)
    assert Door.objects.get(pk=door.pk).name == done["name"]
    assert {each.json()["current"]["name"] for each in answers if each.status_code == 412} == {done["name"]}


def test_of_requests_with_one_key_one_is_done_and_the_others_wait_or_get_its_answer(cast: Cast) -> None:
    bearer = make_api(cast.administrator, cast.north).bearer or ""
    body = {"site": str(cast.north.pk), "code": "A", "name": "Annex"}
    act = partial(ask, bearer, LIST, "POST", body, idempotency_key=new_key())
    answers = at_once(act, act, act, act)
    assert {each.status_code for each in answers} <= {201, 409}
    assert len({each.content for each in answers if each.status_code == 201}) == 1
    assert Building.objects.count() == KeptAnswer.objects.count() == 1
    assert act().status_code == 201


def test_while_the_first_is_at_work_the_second_is_told_at_once(cast: Cast) -> None:
    """Before the first one's transaction begins, as on SQLite another could not even look."""
    bearer = make_api(cast.administrator, cast.north).bearer or ""
    body = {"site": str(cast.north.pk), "code": "A", "name": "Annex"}
    act = partial(ask, bearer, LIST, "POST", body, idempotency_key=new_key())
    claimed, told, real = Signal(), Signal(), once.claim

    def slow_claim(**facts: Any) -> KeptAnswer:
        row = real(**facts)
        claimed.set()
        assert told.wait(10)
        return row

    def second() -> Any:
        assert claimed.wait(10)
        with patch.object(once, "claim", real):
            answer = act()
        told.set()
        return answer

    def first() -> Any:
        return act()

    with patch.object(once, "claim", slow_claim):
        answers = at_once(first, second)
    assert [each.status_code for each in answers] == [201, 409]
    assert answers[1]["Retry-After"]


def test_a_quota_is_never_passed(cast: Cast) -> None:
    make_api(cast.administrator, cast.north)
    token = Token.objects.get()

    def spend() -> int:
        return sum(quota.spend(token, Usage.Kind.WRITES).left >= 0 for _ in range(20))

    # Of one process all threads share what it took; of several each takes from the same row.
    with patch.object(quota, "limit_of", lambda _kind: 50):
        assert sum(at_once(spend, spend, spend, spend)) <= 50
    assert Usage.objects.get().count <= 50
