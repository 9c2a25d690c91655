"""A key makes a request harmless to send again.

The referee is the IETF's draft-ietf-httpapi-idempotency-key-header-07, 2.6 and 2.7.
"""

from datetime import timedelta
from typing import Any
from unittest.mock import patch

import pytest
from django.db import OperationalError
from django.db.models import QuerySet
from django.utils import timezone

from keyctl.api import once
from keyctl.api.models import KeptAnswer, Token
from keyctl.api.problems import Problem
from keyctl.audit.models import Event
from keyctl.jobs.routines import routine_kinds, run_by_hand
from keyctl.places.models import Building
from tests.api.client import Api, make_api, problem
from tests.api.things import BULK, DETAIL, LIST, ask, body_of, new_key
from tests.cast import Cast
from tests.factories import make_door, make_floor


@pytest.fixture
def bearer(api: Api) -> str:
    return api.bearer or ""


@pytest.fixture
def body(cast: Cast) -> dict[str, Any]:
    return {"site": str(cast.north.pk), "code": "A", "name": "Annex"}


def make(bearer: str, body: Any, key: str | None) -> Any:
    return ask(bearer, LIST, "POST", body, idempotency_key=key)


def test_the_second_time_the_first_answer_comes_back_and_nothing_is_done(bearer: str, body: Any) -> None:
    key = new_key()
    first, again = make(bearer, body, key), make(bearer, body, key)
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.content == first.content
    assert (again["Location"], again["ETag"]) == (first["Location"], first["ETag"])
    assert again["Content-Type"] == first["Content-Type"]
    assert Building.objects.count() == 1


def test_it_comes_back_as_it_was_though_the_thing_has_changed(bearer: str, body: Any) -> None:
    key = new_key()
    first = make(bearer, body, key)
    Building.objects.update(name="Otherwise")
    assert make(bearer, body, key).content == first.content


def test_without_a_key_it_is_done_twice(bearer: str, body: Any) -> None:
    assert make(bearer, body, None).status_code == 201
    assert make(bearer, body | {"code": "B"}, None).status_code == 201
    assert not KeptAnswer.objects.exists()


def test_the_key_with_another_body_is_refused(bearer: str, body: Any) -> None:
    key = new_key()
    make(bearer, body, key)
    problem(make(bearer, body | {"code": "B"}, key), 422, "key-reused")
    assert Building.objects.count() == 1


def test_the_key_at_another_address_is_refused(bearer: str, body: Any) -> None:
    key = new_key()
    made = body_of(make(bearer, body, key))
    response = ask(bearer, DETAIL, "PATCH", body, pk=made["id"], if_match="*", idempotency_key=key)
    assert response.status_code in {400, 422}
    change = ask(bearer, DETAIL, "PATCH", {"name": "B"}, pk=made["id"], if_match="*", idempotency_key=key)
    problem(change, 422, "key-reused")


def test_blanks_and_the_order_of_names_make_no_other_body(bearer: str, body: Any) -> None:
    key = new_key()
    first = make(bearer, body, key)
    assert make(bearer, dict(reversed(body.items())), key).content == first.content


def test_two_tokens_may_choose_the_same_key(cast: Cast, bearer: str, body: Any) -> None:
    other = make_api(cast.administrator, cast.north).bearer or ""
    key = new_key()
    make(bearer, body, key)
    assert make(other, body | {"code": "B"}, key).status_code == 201


def test_quotation_marks_are_of_the_header_not_of_the_key(bearer: str, body: Any) -> None:
    first = make(bearer, body, '"8e03978e-40d5-43dd-bc93-6894a57f9324"')
    assert make(bearer, body, "8e03978e-40d5-43dd-bc93-6894a57f9324").content == first.content


@pytest.mark.parametrize("key", ["", " ", '""', '"a', 'a"b', "a b", "ä", "x" * 201, '"a", "b"', '"a";p=1'])
def test_what_is_no_key_is_told_by_its_header(bearer: str, body: Any, key: str) -> None:
    told = problem(make(bearer, body, key), 400, "invalid")
    assert [error["header"] for error in told["errors"]] == ["Idempotency-Key"]
    assert not Building.objects.exists()


def test_a_missing_key_is_told_where_one_is_wanted(bearer: str, body: Any) -> None:
    problem(ask(bearer, BULK, "POST", {"items": [body]}), 400, "key-missing")
    assert not Building.objects.exists()


def test_what_was_refused_leaves_the_key_free(bearer: str, body: Any) -> None:
    key = new_key()
    problem(make(bearer, body | {"name": "refused"}, key), 422, "refused")
    assert make(bearer, body, key).status_code == 201


def test_a_change_comes_back_though_its_tag_is_old_by_then(bearer: str, cast: Cast) -> None:
    """Whoever lost the answer to a change does not learn that they were the ones who changed it."""
    thing, key = make_floor(cast.north).building, new_key()
    tag = ask(bearer, DETAIL, "GET", pk=thing.pk)["ETag"]
    facts: dict[str, Any] = {"pk": thing.pk, "if_match": tag, "idempotency_key": key}
    first, again = (ask(bearer, DETAIL, "PATCH", {"name": "New"}, **facts) for _ in range(2))
    assert (first.status_code, again.content) == (200, first.content)


def test_a_removal_comes_back_though_the_thing_is_gone(bearer: str, cast: Cast) -> None:
    floor, key = make_floor(cast.north), new_key()
    floor.delete()
    facts: dict[str, Any] = {"pk": floor.building.pk, "if_match": "*", "idempotency_key": key}
    for _ in range(2):
        response = ask(bearer, DETAIL, "DELETE", **facts)
        assert (response.status_code, response.content) == (204, b"")
        assert "Content-Type" not in response
    assert ask(bearer, DETAIL, "DELETE", **facts | {"idempotency_key": new_key()}).status_code == 404


@pytest.fixture
def at_work(bearer: str, body: Any) -> str:
    """A key whose first request has not come to its end."""
    key = new_key()
    broken = patch.object(once, "_keep", side_effect=OperationalError)
    with broken, patch.object(once, "_own"), pytest.raises(OperationalError):
        make(bearer, body, key)
    return key


def test_while_the_first_is_at_work_the_second_waits(bearer: str, body: Any, at_work: str) -> None:
    response = make(bearer, body, at_work)
    problem(response, 409, "in-flight")
    assert int(response["Retry-After"]) >= 1
    assert not Building.objects.exists()


def test_whoever_died_at_work_leaves_the_key_to_the_next(bearer: str, body: Any, at_work: str) -> None:
    KeptAnswer.objects.update(claimed_at=timezone.now() - once.GIVEN_UP_AFTER)
    first = make(bearer, body, at_work)
    assert (first.status_code, make(bearer, body, at_work).content) == (201, first.content)


def test_who_was_given_up_and_comes_to_an_end_after_all_undoes_their_work(bearer: str, body: Any) -> None:
    key, real = new_key(), once._keep

    def late(claimed: KeptAnswer, answer: Any) -> None:
        KeptAnswer.objects.update(claimed_at=timezone.now() - once.GIVEN_UP_AFTER)
        taken = once.claim(token=claimed.token, key=claimed.key, request=claimed.request)
        assert taken.claim != claimed.claim
        real(claimed, answer)

    with patch.object(once, "_keep", late):
        problem(make(bearer, body, key), 409, "in-flight")
    assert not Building.objects.exists()


def test_what_was_done_and_its_answer_are_there_together_or_not_at_all(bearer: str, body: Any) -> None:
    key = new_key()
    with patch.object(once, "_keep", side_effect=RuntimeError), pytest.raises(RuntimeError):
        make(bearer, body, key)
    assert not Building.objects.exists()
    assert not KeptAnswer.objects.exists()


def test_an_answer_is_kept_a_day_and_more_then_forgotten(bearer: str, body: Any) -> None:
    assert timedelta(hours=24) <= once.KEPT_FOR
    key = new_key()
    make(bearer, body, key)
    now = timezone.now()
    for age, left in ((timedelta(hours=24), 1), (once.KEPT_FOR + timedelta(minutes=1), 0)):
        KeptAnswer.objects.update(claimed_at=now - age)
        run_by_hand("api.answers")
        assert KeptAnswer.objects.count() == left
    assert "api.answers" in {kind.name for kind in routine_kinds()}


def test_keys_are_kept_as_digests(bearer: str, body: Any) -> None:
    make(bearer, body, '"order-of-mrs-example"')
    assert "example" not in str(KeptAnswer.objects.values().get())


def test_a_claim_that_vanished_meanwhile_is_still_at_work_for_who_looks(bearer: str) -> None:
    facts: dict[str, Any] = {"token": Token.objects.get(), "key": "k", "request": "r"}
    once.claim(**facts)
    row = KeptAnswer.objects.get()
    found = patch.object(QuerySet, "get_or_create", lambda *_rows, **_facts: (row, False))
    row.delete()
    with found, pytest.raises(Problem) as caught:
        once.claim(**facts)
    assert caught.value.kind.slug == "in-flight"


def test_a_replay_writes_no_history(cast: Cast, api: Api) -> None:
    key, door = new_key(), make_door(cast.north)
    body = {"kind": "inspect", "site": str(cast.north.pk), "title": "Look", "doors": [str(door.pk)]}
    first = api.post("work-orders/", body, key=key)
    count = Event.objects.count()
    assert first.status_code == 201
    assert api.post("work-orders/", body, key=key).content == first.content
    assert Event.objects.count() == count
