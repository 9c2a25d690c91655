"""Programs are not led from plain HTTP to TLS: their tokens would go on in the open, unnoticed."""

from collections.abc import Callable
from http import HTTPStatus

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from keyctl.lib.http import problem

GetResponse = Callable[[HttpRequest], HttpResponseBase]

OF_PROGRAMS = ("/api/v1/", "/scim/")
SAID = "Programs are answered by HTTPS only. Take what was sent as read by others, and renew the token."


def refuse_programs(get_response: GetResponse) -> GetResponse:
    """Before the redirect that people get."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        if _is_plain(request) and request.path.startswith(OF_PROGRAMS):
            return problem(HTTPStatus.FORBIDDEN, SAID, title="Not by plain HTTP")
        return get_response(request)

    return middleware


def _is_plain(request: HttpRequest) -> bool:
    return bool(settings.SECURE_SSL_REDIRECT) and not request.is_secure()
