"""How an answer says that nothing was done: a form to mend, somebody was first, or a problem for programs."""

from collections.abc import Mapping
from http import HTTPStatus

from django.http import JsonResponse

from keyctl.lib.language import Text

CONFLICT = 409
UNPROCESSABLE = 422


def problem(
    status: HTTPStatus, detail: Text, *, title: Text = "", headers: Mapping[str, str] | None = None
) -> JsonResponse:
    """Problem details (RFC 9457) without a type of their own."""
    body = {
        "type": "about:blank",
        "title": title or status.phrase,
        "status": status.value,
        "detail": detail,
    }
    return JsonResponse(body, status=status, headers=headers, content_type="application/problem+json")
