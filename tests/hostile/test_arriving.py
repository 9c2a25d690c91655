"""Requests that no browser sends: the first of all that look at them answers, in words, and never breaks."""

import io
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadhandler import load_handler
from django.http import HttpRequest
from django.test import Client
from django.urls import reverse

from keyctl.inherited.models import BittingList
from keyctl.lib import limits
from keyctl.lib.sheets import LARGEST_FILE
from tests.cast import Cast

PAGE = {"Accept": "text/html,*/*"}
PART = "--X\r\nContent-Disposition: form-data; {}\r\n{}\r\n{}\r\n--X--\r\n"


def part(head: str = 'name="a"', body: str = "x", more: str = "") -> bytes:
    return PART.format(head, more, body).encode()


MULTIPART = "multipart/form-data; boundary=X"
FORM = "application/x-www-form-urlencoded"
BODIES: list[tuple[str, bytes, set[int]]] = [
    (f"{MULTIPART}; charset=rot13", part(), {415}),
    (f"{MULTIPART}; charset=undefined", part(), {415}),
    (f"{FORM}; charset=utf-16", b"a=b", {415}),
    (MULTIPART, part("name=\"a\"; filename*=rot13''abc"), {422}),
    (MULTIPART, part("name=\"a\"; filename*=undefined''a%ff"), {422}),
    (MULTIPART, part("name*=base64''abc"), {422}),
    (MULTIPART, part('name="file"; filename="../../x.csv"'), {422}),
    (MULTIPART, part('name="file"; filename="' + "a" * 5_000 + '"'), {400, 422}),
    (MULTIPART, part(body="!!!!", more="Content-Transfer-Encoding: base64\r\n"), {400, 422}),
    (MULTIPART, part('name="file"; filename="a"', more="Content-Type: text/csv; charset=rot13\r\n"), {422}),
    (MULTIPART, part('name="name"; a="', body="\x00"), {400, 422}),
    (MULTIPART, b"--X\r\n" * 5_000, {413}),
    (MULTIPART, b"--X\r\nContent-Disposition: form-data", {422}),
    (MULTIPART, b"".join(part(f'name="f{n}"; filename="a"')[:-6] for n in range(9)) + b"--X--\r\n", {413}),
    ("multipart/form-data", part(), {400}),
    (f"multipart/form-data; boundary={'x' * 500}", part(), {400}),
    (FORM, b"&".join(b"a%d=1" % number for number in range(3_000)), {413}),
    (FORM, b"a=%ff%fe", {422}),
    (FORM, b"a=%00", {400}),
    (FORM, b"a=%e2%80%ae", {400}),
    (FORM, b"a=" + b"x" * 3_000_000, {413}),
    (MULTIPART, b"x" * (limits.LARGEST_BODY + 1), {413}),
    ("application/json", b"{}", {422}),
    ("\xff", b"x", {422}),
]


@pytest.mark.parametrize(("kind", "body", "expected"), BODIES)
def test_a_body_that_is_none_is_answered_in_words(
    cast: Cast, client: Client, kind: str, body: bytes, expected: set[int]
) -> None:
    client.force_login(cast.locksmith)
    client.raise_request_exception = False
    response = client.generic("POST", reverse("inherited:bring"), body, content_type=kind, headers=PAGE)
    assert response.status_code in expected
    assert "text/html" in response["Content-Type"]
    assert "<h1" in response.content.decode()
    assert not BittingList.objects.exists()


HEADS: list[dict[str, str]] = [
    {"CONTENT_LENGTH": "abc"},
    {"CONTENT_LENGTH": "-1"},
    {"CONTENT_LENGTH": "9" * 40},
    {"CONTENT_LENGTH": "٣"},
    {"HTTP_HOST": "evil.example"},
    {"HTTP_HOST": "a b"},
    {"HTTP_COOKIE": f"{settings.SESSION_COOKIE_NAME}=\x00"},
    {"HTTP_COOKIE": f"{settings.SESSION_COOKIE_NAME}={'x' * 8_000}"},
    {"HTTP_COOKIE": "keyctl_tablet=\xff; csrf=\xff;;;=;a"},
    {"HTTP_ACCEPT_LANGUAGE": "x" * 5_000},
    {"HTTP_ACCEPT": "\xff/\xff;q=x"},
    {"HTTP_IF_NONE_MATCH": "\xff"},
    {"HTTP_IF_MODIFIED_SINCE": "99999999"},
    {"HTTP_HX_REQUEST": "true", "HTTP_HX_CURRENT_URL": "\xff%%"},
    {"HTTP_AUTHORIZATION": "Bearer \xff"},
    {"HTTP_AUTHORIZATION": f"Bearer {'x' * 9_000}"},
    {"HTTP_REFERER": "http://[::1"},
    {"HTTP_ORIGIN": "http://[::1"},
    {"QUERY_STRING": "a=%ff&&&=&%00"},
    {"QUERY_STRING": f"page={'9' * 5_000}"},
    {"QUERY_STRING": "a&" * 3_000},
    {"QUERY_STRING": "q=" + "x" * 9_000},
]
PLACES = ["/", "/api/v1/sites/", "/scim/v2/Users", "/field/state/", "/systems/", "/metrics"]


@pytest.mark.parametrize("facts", HEADS)
def test_a_head_that_is_none_breaks_nothing(cast: Cast, facts: dict[str, str]) -> None:
    client = Client(raise_request_exception=False)
    for path in PLACES:
        for method in ("GET", "POST"):
            response: Any = client.generic(method, path, b"", **facts)  # type: ignore[arg-type]
            assert response.status_code < 500, (method, path)


@pytest.mark.parametrize(
    ("facts", "status", "words"),
    [
        ({"CONTENT_LENGTH": "7000000"}, 413, "larger than 6 MB"),
        ({"CONTENT_LENGTH": "x"}, 400, "how long it is"),
        ({"QUERY_STRING": "x" * 9_000}, 414, "too long"),
        ({"CONTENT_TYPE": "application/json; charset=utf-7"}, 415, "not in UTF-8"),
        ({"HTTP_HOST": "evil.example"}, 400, "KEYCTL_HOSTS"),
    ],
)
def test_programs_get_a_problem_and_people_a_page(
    db: None, facts: dict[str, str], status: int, words: str
) -> None:
    """The members of a problem are those of RFC 9457, 3.1."""
    told: Any = Client().generic("POST", "/api/v1/work-orders/", b"", **facts)  # type: ignore[arg-type]
    assert (told.status_code, told["Content-Type"]) == (status, "application/problem+json")
    body = told.json()
    assert set(body) == {"type", "title", "status", "detail"}
    assert (body["status"], words in body["detail"]) == (status, True)
    page: Any = Client().generic("POST", "/account/sign-in/", b"", HTTP_ACCEPT="text/html", **facts)  # type: ignore[arg-type]
    assert page.status_code == status
    assert words in page.content.decode()


@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize(
    "wanted",
    [
        "-1",
        "NaN",
        "[]",
        "accounts:me",
        "https://evil.example/",
        "//evil.example",
        "/\\evil.example",
        "javascript:1",
    ],
)
def test_who_is_signed_in_is_led_home_by_whatever_is_no_address_of_ours(
    cast: Cast, client: Client, method: str, wanted: str
) -> None:
    client.force_login(cast.desk)
    answer = getattr(client, method)(reverse("accounts:sign-in"), {"next": wanted})
    assert (answer.status_code, answer["Location"]) == (302, "/")


def test_no_upload_ever_lies_on_a_disk() -> None:
    """The handler that writes files is not in force, and the one that is holds whatever may arrive."""
    [name] = settings.FILE_UPLOAD_HANDLERS
    handler = load_handler(name, HttpRequest())
    handler.handle_raw_input(io.BytesIO(), {}, limits.LARGEST_BODY, "X")
    assert handler.activated  # type: ignore[attr-defined]
    assert limits.LARGEST_BODY > LARGEST_FILE


@pytest.mark.parametrize("size", [LARGEST_FILE + 1, limits.LARGEST_BODY - 10_000])
def test_a_large_file_is_refused_by_its_form_and_stays_in_memory(
    cast: Cast, client: Client, size: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    import tempfile

    def no_file(*_args: Any, **_facts: Any) -> Any:
        raise AssertionError("a file on the disk")

    for name in ("NamedTemporaryFile", "TemporaryFile", "SpooledTemporaryFile", "mkstemp"):
        monkeypatch.setattr(tempfile, name, no_file)
    client.force_login(cast.locksmith)
    body = part('name="file"; filename="a.csv"', body="x" * size)
    page = client.generic("POST", reverse("inherited:bring"), body, content_type=MULTIPART, headers=PAGE)
    assert page.status_code == 422
    assert "larger than 5 MB" in page.content.decode()
