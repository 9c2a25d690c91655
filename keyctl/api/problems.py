"""What went wrong, as problem details (RFC 9457), for every refusal of the API."""

from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import quote

from django.core.exceptions import PermissionDenied
from django.http import Http404
from rest_framework import exceptions, status
from rest_framework.response import Response

from keyctl.api.kinds import KINDS, Kind
from keyctl.lib.errors import Conflict, Refused

MEDIA_TYPE = "application/problem+json"


# What the framework refuses by itself.
_BY_STATUS = {
    KINDS[slug].status: KINDS[slug]
    for slug in (
        "not-authenticated",
        "forbidden",
        "method-not-allowed",
        "not-acceptable",
        "too-large",
        "unsupported-media-type",
    )
}


class Problem(exceptions.APIException):
    """A problem of a kind; in the words of its page where no others are given."""

    def __init__(
        self,
        slug: str,
        detail: str = "",
        *,
        headers: Mapping[str, str] | None = None,
        more: Mapping[str, Any] | None = None,
    ) -> None:
        self.kind = KINDS[slug]
        self.status_code = self.kind.status
        super().__init__(detail or self.kind.meaning)
        self.headers, self.more = dict(headers or {}), dict(more or {})


class BodyTooLarge(exceptions.APIException):
    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_detail = "The body is larger than this server takes."


class BadHeader(exceptions.ValidationError):
    """Facts in the head of a request that do not fit."""


class BadQuery(exceptions.ValidationError):
    """Facts in the query that do not fit: their places are parameters, not pointers into a body."""


def answer(exc: Exception, _context: Mapping[str, Any]) -> Response | None:
    """The exception handler of every API view; what is nobody's refusal stays an error of ours (500)."""
    if isinstance(exc, Refused):
        return _refused(exc)
    if isinstance(exc, exceptions.ValidationError):
        return _invalid(exc)
    if isinstance(exc, Http404 | exceptions.NotFound):
        return respond(KINDS["not-found"], KINDS["not-found"].meaning)
    if isinstance(exc, PermissionDenied):
        return respond(KINDS["forbidden"], "The roles of this token's account do not suffice for this.")
    return _of_the_framework(exc) if isinstance(exc, exceptions.APIException) else None


def respond(
    kind: Kind,
    detail: str,
    errors: list[dict[str, str]] | None = None,
    headers: dict[str, str] | None = None,
    more: Mapping[str, Any] | None = None,
) -> Response:
    body: dict[str, Any] = {
        "type": kind.uri,
        "title": kind.title,
        "status": kind.status,
        "detail": detail,
    }
    if errors:
        body["errors"] = errors
    body |= more or {}
    return Response(body, status=kind.status, headers=headers, content_type=MEDIA_TYPE)


def _refused(refusal: Refused) -> Response:
    kind = KINDS["conflict" if isinstance(refusal, Conflict) else "refused"]
    return respond(kind, refusal.message, [{"detail": reason} for reason in refusal.reasons])


def _invalid(exc: exceptions.ValidationError) -> Response:
    found = list(_leaves(exc.detail))
    if isinstance(exc, BadQuery | BadHeader):
        place = "header" if isinstance(exc, BadHeader) else "parameter"
        errors = [{"detail": words, place: "/".join(path)} for path, words in found]
    else:
        errors = [{"detail": words, "pointer": _pointer(path)} for path, words in found]
    return respond(KINDS["invalid"], "Nothing was done: see errors.", errors)


def _of_the_framework(exc: exceptions.APIException) -> Response:
    if isinstance(exc, Problem):
        return respond(exc.kind, str(exc.detail), headers=exc.headers, more=exc.more)
    kind = KINDS["malformed"] if isinstance(exc, exceptions.ParseError) else _BY_STATUS.get(exc.status_code)
    if kind is None:
        raise exc
    detail = kind.meaning if isinstance(exc, exceptions.NotAuthenticated) else str(exc.detail)
    challenge = getattr(exc, "auth_header", None)
    return respond(kind, detail, headers={"WWW-Authenticate": challenge} if challenge else None)


def _leaves(detail: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str]]:
    """The sentences of a validation error, each with the way to its value."""
    if isinstance(detail, Mapping):
        for name, inner in detail.items():
            yield from _leaves(inner, path if name == "non_field_errors" else (*path, str(name)))
    elif isinstance(detail, list):
        for place, inner in enumerate(detail):
            nested = isinstance(inner, Mapping | list)
            yield from _leaves(inner, (*path, str(place)) if nested else path)
    else:
        yield path, str(detail)


def _pointer(path: tuple[str, ...]) -> str:
    """A JSON pointer as a URI fragment (RFC 6901, 6), as in RFC 9457's own example.

    >>> _pointer(("housings", "0")), _pointer(("a/b",)), _pointer(())
    ('#/housings/0', '#/a~1b', '#')
    """
    steps = (step.replace("~", "~0").replace("/", "~1") for step in path)
    return "#" + "".join(f"/{quote(step, safe='~')}" for step in steps)
