"""Reading what was sent: JSON of a bounded size and depth, whose text a database can keep."""

import json
from typing import Any, NoReturn

from django.http import HttpRequest

from keyctl.scim.errors import ScimRefusal

MOST_BYTES = 256 * 1024
DEEPEST = 12
MOST_VALUES = 20_000
TYPES = {"", "application/scim+json", "application/json"}


def read_body(request: HttpRequest) -> dict[str, Any]:
    if request.content_type not in TYPES:
        raise ScimRefusal(415, "Send application/scim+json.")
    raw = request.read(MOST_BYTES + 1)
    if len(raw) > MOST_BYTES:
        raise ScimRefusal(413, f"The body is larger than {MOST_BYTES} bytes.")
    try:
        found = json.loads(raw.decode("utf-8"), parse_constant=_refuse_constant)
    except (RecursionError, ValueError):
        raise _malformed("The body is not JSON in UTF-8 that this service reads.") from None
    if not isinstance(found, dict):
        raise _malformed("The body is not a JSON object.")
    check_values(found)
    return found


def check_values(body: Any) -> None:
    """Layer by layer: how deep, how many, and no sign that is no text."""
    layer, seen = [body], 0
    for _ in range(DEEPEST):
        seen += len(layer)
        if seen > MOST_VALUES:
            raise _malformed("The body holds too many values.")
        layer = [inner for value in layer for inner in _inside(value)]
        if not layer:
            return
    raise _malformed(f"The body is nested deeper than {DEEPEST} levels.")


def is_text(value: str) -> bool:
    """
    >>> [is_text(text) for text in ("Ada", "A\\x00", "\\ud800", "two\\nlines")]
    [True, False, False, True]
    """
    return "\x00" not in value and not any("\ud800" <= sign <= "\udfff" for sign in value)


def _inside(value: Any) -> list[Any]:
    if isinstance(value, str) and not is_text(value):
        raise ScimRefusal(400, "A text holds signs that are no text.", "invalidValue")
    if isinstance(value, dict):
        return [*value.keys(), *value.values()]
    return value if isinstance(value, list) else []


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no JSON value")


def _malformed(words: str) -> ScimRefusal:
    return ScimRefusal(400, words, "invalidSyntax")
