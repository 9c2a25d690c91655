"""A log tells which request it was and where it broke, never what was in it."""

import io
import json
import logging
import logging.config
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.test import Client
from pytest_django import Settings

from keyctl.lib import logs
from tests.cast import Cast

CANARY = "361492"


@pytest.fixture
def written(request: pytest.FixtureRequest) -> Iterator[io.StringIO]:
    """What the handler of the product writes; the tests' own handlers stay as they are."""
    configuration = logs.configuration(request.param)
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    formatter = dict(configuration["formatters"]["plain"])
    handler.setFormatter(formatter.pop("()")(**formatter))
    root, requests = logging.getLogger(), logging.getLogger("keyctl.requests")
    before = requests.level
    requests.setLevel(configuration["loggers"]["keyctl.requests"]["level"])
    root.addHandler(handler)
    yield out
    root.removeHandler(handler)
    requests.setLevel(before)


def broken(*_args: Any, **_kwargs: Any) -> None:
    raise ValueError(f"the bitting {CANARY} was not expected")


@pytest.mark.parametrize("written", ["json"], indirect=True)
def test_each_request_has_a_line_with_its_number_and_route(
    written: io.StringIO, client: Client, cast: Cast
) -> None:
    client.force_login(cast.locksmith)
    answer = client.get("/Q/ABCD2345", {"looked": "for"})
    lines = [json.loads(line) for line in written.getvalue().splitlines()]
    [line] = [line for line in lines if line["event"] == "answered"]
    assert line["request_id"] == answer["X-Request-ID"]
    assert (line["route"], line["status"], line["user"]) == ("find-by-tag", 404, str(cast.locksmith.pk))
    assert "looked" not in written.getvalue()


@pytest.mark.parametrize("written", logs.KINDS, indirect=True)
def test_what_broke_is_told_by_its_place_and_not_by_its_words(
    written: io.StringIO, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("keyctl.places.views.first.render", broken)
    client = Client(raise_request_exception=False)
    client.force_login(cast.locksmith)
    answer = client.get("/design/")
    assert answer.status_code == 500
    assert answer["X-Request-ID"] in answer.content.decode()
    assert answer["X-Request-ID"] in written.getvalue()
    assert "ValueError at" in written.getvalue()
    assert "first.py" in written.getvalue()
    assert CANARY not in written.getvalue()


def test_a_number_from_outside_counts_only_behind_a_proxy(client: Client, settings: Settings) -> None:
    given = {"X-Request-ID": "from-the-proxy-1"}
    assert client.get("/health/live", headers=given)["X-Request-ID"] != "from-the-proxy-1"
    settings.BEHIND_PROXY = True
    assert client.get("/health/live", headers=given)["X-Request-ID"] == "from-the-proxy-1"


@pytest.mark.parametrize("forged", ["a\nERROR forged", "short", "x" * 65, "with space here"])
def test_a_number_that_could_forge_a_line_is_not_taken(
    client: Client, settings: Settings, forged: str
) -> None:
    settings.BEHIND_PROXY = True
    assert client.get("/health/live", HTTP_X_REQUEST_ID=forged)["X-Request-ID"] != forged


def test_an_unknown_form_of_logs_stops_the_start() -> None:
    with pytest.raises(ImproperlyConfigured, match="lines or json"):
        logs.configuration("xml")
