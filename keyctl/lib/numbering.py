"""Each request has a number: it stands in the log, in the answer and on the page of an error."""

import logging
import re
from collections.abc import Callable
from time import perf_counter
from uuid import uuid4

import structlog
from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase

logger = logging.getLogger("keyctl.requests")

HEADER = "X-Request-ID"
# What a proxy may have given; anything else could forge lines of the log.
GIVEN = re.compile(r"[A-Za-z0-9-]{8,64}\Z")

GetResponse = Callable[[HttpRequest], HttpResponseBase]


def number_requests(get_response: GetResponse) -> GetResponse:
    """First of all, so that whatever follows logs under the number."""

    def middleware(request: HttpRequest) -> HttpResponseBase:
        number = _given(request) or uuid4().hex
        began = perf_counter()
        with structlog.contextvars.bound_contextvars(request_id=number):
            response = get_response(request)
            response[HEADER] = number
            logger.info("answered", extra=_told(request, response, perf_counter() - began))
        return response

    return middleware


def number_of_request() -> str:
    """The number of the request in hand; empty outside of one."""
    return str(structlog.contextvars.get_contextvars().get("request_id", ""))


def _given(request: HttpRequest) -> str:
    text = request.headers.get(HEADER, "") if settings.BEHIND_PROXY else ""
    return text if GIVEN.match(text) else ""


def _told(request: HttpRequest, response: HttpResponseBase, seconds: float) -> dict[str, object]:
    """The route and not the address: an address may hold what somebody searched for."""
    user = getattr(request, "_cached_user", None)
    return {
        "method": request.method,
        "route": route_of(request),
        "status": response.status_code,
        "ms": round(seconds * 1000, 1),
        "user": str(user.pk) if user is not None and user.is_authenticated else "",
    }


def route_of(request: HttpRequest) -> str:
    return request.resolver_match.view_name if request.resolver_match else ""
