"""Requests are measured before anything reads them: by their own word, which the reading holds them to.

What is too much is told in one sentence: on a page to who reads pages, else as a problem (RFC 9457).
"""

from collections.abc import Callable
from http import HTTPStatus

from django.core.exceptions import (
    DisallowedHost,
    RequestDataTooBig,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.http import problem
from keyctl.lib.language import Text
from keyctl.lib.limits import LARGEST_BODY, LONGEST_QUERY, MOST_FIELDS, MOST_FILES
from keyctl.lib.numbers import as_number

GetResponse = Callable[[HttpRequest], HttpResponseBase]

# Others are known to Python that are none at all, and to read by them breaks in ways of their own.
CHARSETS = {"utf-8", "utf8", "us-ascii", "ascii"}

TOO_LONG = gettext_lazy("The address is too long. Ask for less at once.")
NO_LENGTH = gettext_lazy(
    "The request does not say how long it is in a number. Load the page again, and send it once more."
)
NO_CHARSET = gettext_lazy("What was sent is not in UTF-8. Load the page again, and send it once more.")
UNREADABLE = gettext_lazy("What was sent arrived broken. Load the page again, and send it once more.")
NO_HOST = gettext_lazy(
    "This server does not answer to that name. Whoever runs it adds the name to KEYCTL_HOSTS."
)


def limit_requests(get_response: GetResponse) -> GetResponse:
    def middleware(request: HttpRequest) -> HttpResponseBase:
        fault = _fault(request)
        return get_response(request) if fault is None else _told(request, *fault)

    return middleware


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponseBase:
    """Django's own limits, and whatever else it finds that no browser sends."""
    if isinstance(exception, RequestDataTooBig):
        return _told(request, HTTPStatus.REQUEST_ENTITY_TOO_LARGE, _too_large())
    if isinstance(exception, TooManyFieldsSent):
        words = _("What was sent has more than {most} fields. Send it in parts.")
        return _told(request, HTTPStatus.REQUEST_ENTITY_TOO_LARGE, words.format(most=as_number(MOST_FIELDS)))
    if isinstance(exception, TooManyFilesSent):
        words = _("More than {most} files came at once. Send them one by one.")
        return _told(request, HTTPStatus.REQUEST_ENTITY_TOO_LARGE, words.format(most=as_number(MOST_FILES)))
    unreadable = NO_HOST if isinstance(exception, DisallowedHost) else UNREADABLE
    return _told(request, HTTPStatus.BAD_REQUEST, unreadable)


def _too_large() -> str:
    words = _("What was sent is larger than {most} MB. Send it in parts.")
    return words.format(most=as_number(LARGEST_BODY // 1_000_000))


def _fault(request: HttpRequest) -> tuple[HTTPStatus, Text] | None:
    length = request.META.get("CONTENT_LENGTH") or "0"
    if not (length.isascii() and length.isdigit()):
        return HTTPStatus.BAD_REQUEST, NO_LENGTH
    if len(length) > 12 or int(length) > LARGEST_BODY:
        return HTTPStatus.REQUEST_ENTITY_TOO_LARGE, _too_large()
    if len(request.META.get("QUERY_STRING", "")) > LONGEST_QUERY:
        return HTTPStatus.REQUEST_URI_TOO_LONG, TOO_LONG
    charset = (request.content_params or {}).get("charset", "utf-8")
    if charset.strip("\"' ").lower() not in CHARSETS:
        return HTTPStatus.UNSUPPORTED_MEDIA_TYPE, NO_CHARSET
    return None


def _told(request: HttpRequest, status: HTTPStatus, words: Text) -> HttpResponse:
    """The page asks nothing of the request: it may be what broke."""
    if "text/html" in request.META.get("HTTP_ACCEPT", ""):
        return render(None, "400.html", {"words": words}, status=status)
    return problem(status, words)
