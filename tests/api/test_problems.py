"""RFC 9457: whatever goes wrong is told as a problem, never as a page or a trace."""

import pytest
from django.test import Client

from keyctl.api.kinds import KINDS, Kind
from keyctl.api.parsers import BOUNDS
from tests.api.client import Api, problem

ANYWHERE = ["", "nowhere/", "doors", "doors/7/", "doors/not-an-id/openers/", "sites/%00/", "../v2/doors/"]


@pytest.mark.parametrize("path", ANYWHERE)
def test_an_unknown_address_is_a_problem(db: None, path: str) -> None:
    problem(Api().get(path), 404, "not-found")


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS"])
def test_an_unknown_address_is_the_same_problem_for_every_method(db: None, method: str) -> None:
    problem(Api().send(method, "nowhere/"), 404, "not-found")


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS"])
def test_a_method_that_does_not_work_names_those_that_do(api: Api, method: str) -> None:
    response = api.send(method, "sites/")
    problem(response, 405, "method-not-allowed")
    assert response["Allow"] == "GET, HEAD"  # RFC 9110, 15.5.6: Allow must be there


def test_the_description_is_read_only(db: None) -> None:
    problem(Api().send("POST", "schema/"), 405, "method-not-allowed")


def test_no_such_representation(api: Api) -> None:
    problem(api.send("GET", "doors/", headers={"accept": "application/xml"}), 406, "not-acceptable")


@pytest.mark.parametrize(
    "content_type", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"]
)
def test_a_body_of_another_type(api: Api, content_type: str) -> None:
    response = api.send("POST", "work-orders/", b"kind=swap", content_type=content_type)
    problem(response, 415, "unsupported-media-type")


def test_a_mistake_in_the_body_is_told_with_its_line_and_column(api: Api) -> None:
    response = api.send("POST", "work-orders/", b'{\n  "kind": swap\n}', content_type="application/json")
    assert problem(response, 400, "malformed")["detail"].startswith("Line 2, column 11:")


UNREADABLE = [b"{", b"\xff\xfe{", b'{"kind": NaN}', b"[" * 100_000, b'{"a": 1} {}']


@pytest.mark.parametrize("body", UNREADABLE, ids=["cut", "not UTF-8", "NaN", "deep", "two"])
def test_a_body_that_is_not_json(api: Api, body: bytes) -> None:
    problem(api.send("POST", "work-orders/", body, content_type="application/json"), 400, "malformed")


@pytest.mark.parametrize("title", ["\\u0000", "\\ud800"])
def test_signs_that_no_database_takes_are_refused(api: Api, title: str) -> None:
    body = f'{{"kind": "swap", "title": "{title}"}}'.encode()
    answer = problem(api.send("POST", "work-orders/", body, content_type="application/json"), 400, "invalid")
    assert "#/title" in {error["pointer"] for error in answer["errors"]}


def test_a_sign_that_no_database_takes_in_a_filter_is_refused(api: Api) -> None:
    body = problem(api.get("doors/", q="a\x00b"), 400, "invalid")
    assert [error["parameter"] for error in body["errors"]] == ["q"]


def test_a_body_that_is_too_large(api: Api) -> None:
    body = b'"' + b"x" * BOUNDS.bytes + b'"'
    problem(api.send("POST", "work-orders/", body, content_type="application/json"), 413, "too-large")


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_each_kind_of_problem_has_a_page_that_anybody_may_read(db: None, kind: Kind) -> None:
    response = Client().get(f"/api/v1/problems/{kind.slug}/")
    assert response.status_code == 200
    assert kind.title in response.content.decode()


def test_an_unknown_kind_has_none(db: None) -> None:
    assert Client().get("/api/v1/problems/bad-luck/").status_code == 404


def test_what_breaks_on_our_side_is_a_problem_without_a_trace(
    api: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    """RFC 9457, 4.2.1: about:blank, where the status says it all."""

    def broken(*_args: object, **_facts: object) -> None:
        raise RuntimeError("a secret 3141592")

    monkeypatch.setattr("keyctl.api.selectors.doors", broken)
    api.client.raise_request_exception = False
    response = api.get("doors/")
    assert (response.status_code, response["Content-Type"]) == (500, "application/problem+json")
    assert (response.json()["type"], response.json()["status"]) == ("about:blank", 500)
    assert "3141592" not in response.content.decode()


def test_answers_are_kept_in_no_cache(api: Api) -> None:
    assert "no-store" in api.get("doors/")["Cache-Control"]
