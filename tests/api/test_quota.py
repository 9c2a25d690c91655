"""How much a token may ask for, and how it learns of that: RFC 6585, 4, RFC 9110, 10.2.3, and the IETF's
draft-ietf-httpapi-ratelimit-headers-10, whose fields are read here as it writes them."""

import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pytest_django import Settings

from keyctl.api import quota
from keyctl.api.models import Scope, Token, Usage
from tests.api.client import Api, make_api, problem
from tests.cast import Cast

MINUTE = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)


class Clock:
    def __init__(self) -> None:
        self.now = MINUTE + timedelta(seconds=15)

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(timezone, "now", clock)
    return clock


@pytest.fixture
def small(settings: Settings) -> None:
    settings.API_READS, settings.API_WRITES = 5, 2


@pytest.fixture
def long_lived(api: Api) -> Api:
    Token.objects.update(expires_at=MINUTE + timedelta(days=9), created_at=timezone.now() - timedelta(days=1))
    return api


def told(response: Any) -> tuple[str, int, int]:
    found = re.fullmatch(r'"(\w+)";r=(\d+);t=(\d+)', response["RateLimit"])
    assert found
    return found[1], int(found[2]), int(found[3])


def test_every_answer_says_what_is_left_and_for_how_long(small: None, clock: Clock, long_lived: Api) -> None:
    answers = [long_lived.get("sites/") for _ in range(3)]
    assert [told(each) for each in answers] == [("reads", 4, 45), ("reads", 3, 45), ("reads", 2, 45)]
    assert {each["RateLimit-Policy"] for each in answers} == {'"reads";q=5;w=60'}


def test_beyond_that_it_is_told_when_to_come_again(small: None, clock: Clock, long_lived: Api) -> None:
    for _ in range(5):
        assert long_lived.get("sites/").status_code == 200
    for _ in range(3):
        response = long_lived.get("sites/")
        body = problem(response, 429, "too-many-requests")
        assert body["violated-policies"] == ["reads"]
        assert response["Retry-After"] == "45"
        assert told(response) == ("reads", 0, 45)


def test_the_next_minute_begins_anew(small: None, clock: Clock, long_lived: Api) -> None:
    for _ in range(6):
        long_lived.get("sites/")
    clock.now += timedelta(seconds=45)
    assert told(long_lived.get("sites/")) == ("reads", 4, 60)


def test_reads_and_writes_are_counted_apart(small: None, clock: Clock, long_lived: Api) -> None:
    for _ in range(6):
        long_lived.get("sites/")
    answers = [long_lived.post("work-orders/", {}) for _ in range(3)]
    assert [each.status_code for each in answers] == [400, 400, 429]
    assert told(answers[0])[:2] == ("writes", 1)
    assert answers[2]["RateLimit-Policy"] == '"writes";q=2;w=60'


def test_each_token_has_its_own(small: None, clock: Clock, long_lived: Api, cast: Cast) -> None:
    other = make_api(cast.administrator, cast.north)
    Token.objects.update(expires_at=MINUTE + timedelta(days=9))
    for _ in range(6):
        long_lived.get("sites/")
    assert other.get("sites/").status_code == 200


def test_what_a_scope_forbids_is_counted_as_well(small: None, clock: Clock, cast: Cast) -> None:
    reader = make_api(cast.administrator, cast.north, scopes=[Scope.ORDERS_READ])
    Token.objects.update(expires_at=MINUTE + timedelta(days=9))
    assert [reader.get("sites/").status_code for _ in range(6)] == [403] * 5 + [429]


def spend(api: Api, times: int) -> list[int]:
    return [api.get("sites/").status_code for _ in range(times)]


def test_several_processes_share_one_count(
    settings: Settings, clock: Clock, long_lived: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each has a table of its own for what it took; the database has one for all."""
    settings.API_READS = 500
    processes: list[dict[Any, Any]] = [{}, {}, {}]
    answers = []
    for n in range(600):
        monkeypatch.setattr(quota, "_shares", processes[n % 3])
        token = Token.objects.get()
        answers.append(quota.spend(token, Usage.Kind.READS).left >= 0)
    assert sum(answers) == 500
    assert Usage.objects.get().count == 500


def test_few_reads_write(settings: Settings, clock: Clock, long_lived: Api) -> None:
    settings.API_READS = 1000
    token = Token.objects.get()
    with CaptureQueriesContext(connection) as captured:
        for _ in range(100):
            quota.spend(token, Usage.Kind.READS)
    writes = [each for each in captured if each["sql"].startswith(("INSERT", "UPDATE"))]
    assert 1 <= len(writes) <= 7


def test_a_clock_that_was_far_ahead_holds_nobody_up(small: None, clock: Clock, long_lived: Api) -> None:
    clock.now += timedelta(days=1)
    spend(long_lived, 6)
    clock.now -= timedelta(days=1)
    quota._shares.clear()
    assert spend(long_lived, 1) == [200]


def test_nobody_without_a_token_is_counted(db: None) -> None:
    assert "RateLimit" not in Api().get("sites/")
    assert not Usage.objects.exists()


def test_without_settings_there_is_room_for_work() -> None:
    from keyctl import settings

    assert settings.API_READS >= 600
    assert settings.API_WRITES >= 60
