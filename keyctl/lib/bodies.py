"""JSON that a program sent: of a bounded size, depth and count, each name once, no number that a database
refuses."""

import json
from dataclasses import dataclass
from math import isfinite
from typing import Any, Final, NoReturn

from django.utils.translation import gettext

LARGEST_NUMBER: Final = 2**63 - 1
MOST_DIGITS: Final = 19


@dataclass(frozen=True)
class JsonBounds:
    bytes: int
    depth: int = 32
    values: int = 50_000


class NotJson(Exception):
    """The sentence names the place where it can."""


class TooLarge(NotJson):
    def __init__(self, most: int) -> None:
        super().__init__(
            gettext("The body is larger than {most} bytes; send fewer things at a time.").format(most=most)
        )


class TooMany(NotJson):
    def __init__(self, most: int) -> None:
        super().__init__(
            gettext("The body holds more than {most} values; send fewer things at a time.").format(most=most)
        )


def read_json(raw: bytes, bounds: JsonBounds) -> Any:
    if len(raw) > bounds.bytes:
        raise TooLarge(bounds.bytes)
    # Before anything is made of it: each value costs time, and a comma parts most of them.
    if raw.count(b",") > bounds.values:
        raise TooMany(bounds.values)
    found = _parsed(raw)
    _refuse_wild(found, bounds)
    return found


def _parsed(raw: bytes) -> Any:
    try:
        return json.loads(
            raw.decode("utf-8"),
            parse_constant=_refuse_constant,
            parse_int=_whole_number,
            parse_float=_number,
            object_pairs_hook=_members,
        )
    except UnicodeDecodeError as error:
        raise NotJson(f"The body is not UTF-8: see byte {error.start + 1}.") from None
    except json.JSONDecodeError as error:
        raise NotJson(f"Line {error.lineno}, column {error.colno}: {error.msg}.") from None
    except RecursionError:
        raise NotJson("The body is nested too deep.") from None


def _refuse_wild(body: Any, bounds: JsonBounds) -> None:
    """Layer by layer: how deep, and how many."""
    layer, seen = [body], 0
    for _ in range(bounds.depth):
        seen += len(layer)
        if seen > bounds.values:
            raise TooMany(bounds.values)
        layer = [inner for value in layer for inner in _inside(value)]
        if not layer:
            return
    raise NotJson(f"The body is nested deeper than {bounds.depth} levels.")


def _inside(value: Any) -> list[Any]:
    if isinstance(value, dict):
        return list(value.values())
    return value if isinstance(value, list) else []


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Who reads the first of two and who reads the last would do different things (RFC 8259, 4)."""
    found = dict(pairs)
    if len(found) < len(pairs):
        twice = next(name for place, (name, _) in enumerate(pairs) if name in dict(pairs[:place]))
        raise NotJson(f"The name {twice[:40]!r} stands twice in one object.")
    return found


def _whole_number(digits: str) -> int:
    if len(digits.lstrip("-")) > MOST_DIGITS or abs(int(digits)) > LARGEST_NUMBER:
        raise NotJson(f"The number {digits[:12]}… has more digits than are taken.")
    return int(digits)


def _number(text: str) -> float:
    number = float(text)
    if not isfinite(number):
        raise NotJson(f"The number {text[:12]} is larger than are taken.")
    return number


def _refuse_constant(name: str) -> NoReturn:
    raise NotJson(f"{name} is no JSON value.")
