"""A file that is saved leaves the page where it is, and no event tells the page that the answer is there.

So the page sets a cookie before it asks (static/js/waiting.js), and such an answer takes it away again.
"""

from collections.abc import Callable
from http import HTTPStatus

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase

GetResponse = Callable[[HttpRequest], HttpResponseBase]


def tell_of_files(get_response: GetResponse) -> GetResponse:
    def middleware(request: HttpRequest) -> HttpResponseBase:
        response = get_response(request)
        if settings.WAITING_COOKIE_NAME in request.COOKIES and _leaves_the_page(response):
            response.set_cookie(
                settings.WAITING_COOKIE_NAME,
                max_age=0,
                samesite="Strict",
                secure=settings.SESSION_COOKIE_SECURE,
            )
        return response

    return middleware


def _leaves_the_page(response: HttpResponseBase) -> bool:
    is_file = response.headers.get("Content-Disposition", "").startswith("attachment")
    return is_file or response.status_code == HTTPStatus.NO_CONTENT
