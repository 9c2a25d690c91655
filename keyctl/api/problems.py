"""What went wrong, as problem details (RFC 9457), for every refusal of the API."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.urls import reverse
from rest_framework import exceptions, status
from rest_framework.response import Response

from keyctl.lib.errors import Conflict, Refused

MEDIA_TYPE = "application/problem+json"


@dataclass(frozen=True)
class Kind:
    """One type of problem; its page at /api/v1/problems/<slug>/ shows the same words."""

    slug: str
    status: int
    title: str
    meaning: str

    @property
    def uri(self) -> str:
        return settings.BASE_URL + reverse("api:problem", args=[self.slug])


KINDS = {
    kind.slug: kind
    for kind in (
        Kind(
            "malformed",
            400,
            "The body cannot be read",
            "The body is not JSON in UTF-8. The detail names the line and column where reading stopped.",
        ),
        Kind(
            "invalid",
            400,
            "Some facts do not fit",
            "A value is missing, unknown or of the wrong form. Each entry of errors names its place: "
            "pointer for the body (a JSON pointer), parameter for the query.",
        ),
        Kind(
            "not-authenticated",
            401,
            "No valid token",
            "Send the header 'Authorization: Bearer kc_…' with a token that is neither expired nor revoked.",
        ),
        Kind(
            "forbidden",
            403,
            "The token may not do this",
            "The token is valid, but lacks the scope, or its account the role, for this act.",
        ),
        Kind(
            "not-found",
            404,
            "Nothing here",
            "There is nothing at this address, or it belongs to a site that the token does not reach; "
            "the two look the same on purpose. Addresses end with a slash.",
        ),
        Kind(
            "method-not-allowed",
            405,
            "This method does not work here",
            "The header Allow lists the methods that do.",
        ),
        Kind(
            "not-acceptable",
            406,
            "No such representation",
            "Answers are application/json; allow that in the header Accept, or leave the header out.",
        ),
        Kind(
            "conflict",
            409,
            "Somebody else was first",
            "What the request relied on has changed meanwhile. Nothing was written; read again and decide.",
        ),
        Kind(
            "too-large",
            413,
            "The body is too large",
            "Send fewer things in one request.",
        ),
        Kind(
            "unsupported-media-type",
            415,
            "The body is of another type",
            "Send application/json and say so in the header Content-Type.",
        ),
        Kind(
            "refused",
            422,
            "A rule forbids it",
            "The request is well formed, but a rule of the house forbids the act. Nothing was written; "
            "the detail and the entries of errors say why and what to do.",
        ),
    )
}

_BY_STATUS = {kind.status: kind for kind in KINDS.values() if kind.slug not in {"malformed", "invalid"}}


class BodyTooLarge(exceptions.APIException):
    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_detail = "The body is larger than this server takes."


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
    if isinstance(exc, exceptions.APIException):
        return _of_the_framework(exc)
    return None


def respond(
    kind: Kind, detail: str, errors: list[dict[str, str]] | None = None, headers: dict[str, str] | None = None
) -> Response:
    body: dict[str, Any] = {
        "type": kind.uri,
        "title": kind.title,
        "status": kind.status,
        "detail": detail,
    }
    if errors:
        body["errors"] = errors
    return Response(body, status=kind.status, headers=headers, content_type=MEDIA_TYPE)


def _refused(refusal: Refused) -> Response:
    kind = KINDS["conflict" if isinstance(refusal, Conflict) else "refused"]
    return respond(kind, refusal.message, [{"detail": reason} for reason in refusal.reasons])


def _invalid(exc: exceptions.ValidationError) -> Response:
    found = list(_leaves(exc.detail))
    if isinstance(exc, BadQuery):
        errors = [{"detail": words, "parameter": "/".join(path)} for path, words in found]
    else:
        errors = [{"detail": words, "pointer": _pointer(path)} for path, words in found]
    return respond(KINDS["invalid"], "Nothing was done: see errors.", errors)


def _of_the_framework(exc: exceptions.APIException) -> Response:
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
