"""Programs are not led from plain HTTP to TLS: their tokens would go on in the open, unnoticed."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, JsonResponse
from django.http.response import HttpResponseBase

GetResponse = Callable[[HttpRequest], HttpResponseBase]

OF_PROGRAMS = ("/api/v1/", "/scim/")
SAID = "Programs are answered by HTTPS only. Take what was sent as read by others, and renew the token."


def refuse_programs(get_response: GetResponse) -> GetResponse:
    """Before the redirect that people get."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        if _is_plain(request) and request.path.startswith(OF_PROGRAMS):
            body = {"title": "Not by plain HTTP", "status": 403, "detail": SAID}
            return JsonResponse(body, status=403, content_type="application/problem+json")
        return get_response(request)

    return middleware


def _is_plain(request: HttpRequest) -> bool:
    return bool(settings.SECURE_SSL_REDIRECT) and not request.is_secure()
