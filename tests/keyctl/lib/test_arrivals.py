"""The cookie of a page that waits goes with a file that is saved, and with nothing else."""

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import RequestFactory, override_settings

from keyctl.lib.arrivals import tell_of_files

FILE = {"Content-Disposition": 'attachment; filename="a.pdf"'}


def answered(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    answer = tell_of_files(lambda _: response)(request)
    assert isinstance(answer, HttpResponse)
    return answer


def waiting(name: str = "waiting") -> HttpRequest:
    request = RequestFactory().get("/")
    request.COOKIES[name] = "1"
    return request


@pytest.mark.parametrize(
    ("response", "ends"),
    [
        (HttpResponse(headers=FILE), True),
        (HttpResponse(status=204), True),
        (HttpResponse("<p>A page"), False),
        (HttpResponse(status=302, headers={"Location": "/"}), False),
        (HttpResponse(headers={"Content-Disposition": "inline"}), False),
    ],
)
def test_it_goes_with_what_leaves_the_page_where_it_is(response: HttpResponse, ends: bool) -> None:
    cookies = answered(waiting(), response).cookies
    assert ("waiting" in cookies and cookies["waiting"]["max-age"] == 0) is ends


def test_nothing_is_set_where_no_page_waits() -> None:
    assert not answered(RequestFactory().get("/"), HttpResponse(headers=FILE)).cookies


def test_behind_tls_it_is_taken_away_as_it_was_set() -> None:
    """RFC 6265bis: a name with this prefix is taken with Secure and the path / alone, also to end it."""
    with override_settings(WAITING_COOKIE_NAME="__Host-waiting", SESSION_COOKIE_SECURE=True):
        cookie = answered(waiting("__Host-waiting"), HttpResponse(headers=FILE)).cookies["__Host-waiting"]
    assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", "")
