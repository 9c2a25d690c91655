"""Reading what was sent: JSON of a bounded size and depth, whose texts are texts."""

from typing import Any

from django.http import HttpRequest

from keyctl.lib.bodies import JsonBounds, NotJson, TooLarge, read_json
from keyctl.lib.texts import is_text
from keyctl.scim.errors import ScimRefusal

BOUNDS = JsonBounds(bytes=256 * 1024, depth=12, values=20_000)
TYPES = {"", "application/scim+json", "application/json"}


def read_body(request: HttpRequest) -> dict[str, Any]:
    if request.content_type not in TYPES:
        raise ScimRefusal(415, "Send application/scim+json.")
    try:
        found = read_json(request.read(BOUNDS.bytes + 1), BOUNDS)
    except TooLarge as fault:
        raise ScimRefusal(413, str(fault)) from None
    except NotJson as fault:
        raise _malformed(str(fault)) from None
    if not isinstance(found, dict):
        raise _malformed("The body is not a JSON object.")
    _refuse_no_text(found)
    return found


def _refuse_no_text(value: Any) -> None:
    """As deep as its reader let it be."""
    if isinstance(value, str) and not is_text(value):
        raise ScimRefusal(400, "A text holds signs that are no text.", "invalidValue")
    inner = [*value.keys(), *value.values()] if isinstance(value, dict) else value
    for each in inner if isinstance(inner, list) else ():
        _refuse_no_text(each)


def _malformed(words: str) -> ScimRefusal:
    return ScimRefusal(400, words, "invalidSyntax")
