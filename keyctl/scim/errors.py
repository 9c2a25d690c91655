"""Refusals as SCIM says them (RFC 7644, 3.12): a body with status, scimType and words, whatever was sent."""

from collections.abc import Callable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404, JsonResponse
from pydantic import ValidationError
from rest_framework.exceptions import APIException, AuthenticationFailed
from scim2_models import Error, SCIMException

from keyctl.directory.services import Taken
from keyctl.lib.errors import Conflict, Refused

MEDIA_TYPE = "application/scim+json"


class ScimRefusal(Exception):
    """``kind`` is the scimType, where the RFC has one."""

    def __init__(
        self, status: int, words: str, kind: str | None = None, headers: dict[str, str] | None = None
    ) -> None:
        super().__init__(words)
        self.status, self.words, self.kind, self.headers = status, words, kind, headers


def refusal_of(error: Exception) -> ScimRefusal | None:
    """What is nobody's refusal stays an error of ours."""
    for kind, told in READINGS:
        if isinstance(error, kind):
            return told(error)
    return None


def respond(refusal: ScimRefusal) -> JsonResponse:
    body = Error(status=refusal.status, scim_type=refusal.kind, detail=refusal.words)
    return JsonResponse(
        body.model_dump(), status=refusal.status, content_type=MEDIA_TYPE, headers=refusal.headers
    )


def _invalid(error: ValidationError) -> ScimRefusal:
    """The first of them: providers show one line."""
    first = Error.from_validation_errors(error)[0]
    return ScimRefusal(first.status or 400, (first.detail or "")[:500], first.scim_type)


def _refused(error: Refused) -> ScimRefusal:
    if isinstance(error, Taken):
        return ScimRefusal(409, error.message, "uniqueness")
    if isinstance(error, Conflict):
        return ScimRefusal(409, error.message)
    return ScimRefusal(400, " ".join(error.sentences), "invalidValue")


def _of_the_token(error: APIException) -> ScimRefusal:
    challenge: Any = getattr(error, "auth_header", None)
    if isinstance(error, AuthenticationFailed):
        challenge = 'Bearer realm="keyctl", error="invalid_token"'
    headers = {"WWW-Authenticate": challenge} if challenge else None
    return ScimRefusal(error.status_code, str(error.detail), headers=headers)


READINGS: tuple[tuple[type[Exception], Callable[[Any], ScimRefusal]], ...] = (
    (ScimRefusal, lambda error: error),
    (ValidationError, _invalid),
    (SCIMException, lambda error: ScimRefusal(error.status, error.detail, error.scim_type or None)),
    (Refused, _refused),
    (Http404, lambda _: ScimRefusal(404, "There is no such resource.")),
    (PermissionDenied, lambda _: ScimRefusal(403, "This token may not do this.")),
    (APIException, _of_the_token),
)
