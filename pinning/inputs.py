"""What several forms of `python -m pinning` read alike."""

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from pinning.errors import Refusals, Refused
from pinning.fields import Fields
from pinning.formats import CoreFormat, load, parse_format

__all__ = ["collect", "format_of", "told_apart"]

T = TypeVar("T")


def format_of(fields: Fields) -> CoreFormat | None:
    """The format named or described in the input; None when it was refused."""
    value = fields.value("format")
    if isinstance(value, str):
        return collect(fields.refusals, lambda: load(value))
    if isinstance(value, dict):
        return collect(fields.refusals, lambda: parse_format(value))
    if fields.read("format"):
        fields.refuse("format", "type", "an id or an object with a format's parameters is expected.")
    return None


def collect(refusals: Refusals, made: Callable[[], T]) -> T | None:
    """What `made` makes; None, and its reasons collected, when it refuses."""
    try:
        return made()
    except Refused as refused:
        refusals.extend(refused.refusals)
        return None


def told_apart(refusals: Refusals, name: str, made: Callable[[], T]) -> T | None:
    """As `collect`, for one of several parts of an input: every message begins with its name."""
    found = Refusals()
    result = collect(found, made)
    refusals.extend(replace(refusal, message=f"{name}, {refusal.message}") for refusal in found)
    return result
