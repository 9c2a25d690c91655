"""Lengths as they come from a micrometer or calipers, checked before anything is made of them.

What is wrong is recorded and replaced by a harmless stand-in; the caller ends with `refusals.stop()`.

>>> refusals = Refusals()
>>> parse_lengths([0.1975, 0.1725], "root depths", refusals)
(0.1975, 0.1725)
>>> parse_lengths([0.1975, -1], "root depths", refusals), len(refusals)
((), 1)
"""

from math import isfinite
from typing import TypeGuard

from pinning.errors import Refusals
from pinning.formats import CoreFormat
from pinning.wording import said

__all__ = ["DEFAULT_TOLERANCE_IN", "parse_columns", "parse_lengths", "parse_tolerance"]

DEFAULT_TOLERANCE_IN = 0.002
MOST_PINS = 100
Lengths = tuple[float, ...]


def parse_lengths(lengths: object, place: str, refusals: Refusals, position: int | None = None) -> Lengths:
    """A list of inches, each more than 0 and less than 10 (codes `type`, `value`)."""
    if not isinstance(lengths, list | tuple):
        refusals.add(
            "type", said("{place}: a list of inches is expected; correct it.", place=place), position
        )
    elif not all(map(_is_length, lengths)):
        message = said(
            "{place}: lengths in inches are expected; give numbers of more than 0 and less than 10.",
            place=place,
        )
        refusals.add("value", message, position)
    else:
        return tuple(map(float, lengths))
    return ()


def parse_columns(format: CoreFormat, columns: object, refusals: Refusals) -> tuple[Lengths, ...]:
    """Per position the pins' lengths from the key upwards; an empty list is a position without pins.

    Codes: `type`, `value`, and `positions` if not each position of the format is there.
    """
    if not isinstance(columns, list | tuple):
        message = said("measured_in: one list of inches per position is expected; correct it.")
        refusals.add("type", message)
        return ()
    if len(columns) != format.positions:
        message = said(
            "measured_in: {given} positions are given; give each from 1 to {positions}.",
            given=len(columns),
            positions=format.positions,
        )
        refusals.add("positions", message)
    return tuple(_column(column, place, refusals) for place, column in enumerate(columns, 1))


def parse_tolerance(tolerance_in: object, refusals: Refusals) -> float:
    """How far a length may lie from what it should be (code `value`)."""
    if _is_length(tolerance_in):
        return float(tolerance_in)
    message = said("tolerance_in: inches are expected; give a number of more than 0 and less than 10.")
    refusals.add("value", message)
    return DEFAULT_TOLERANCE_IN


def _column(column: object, position: int, refusals: Refusals) -> Lengths:
    place = said("measured_in, position {position}", position=position)
    found = parse_lengths(column, place, refusals, position)
    if len(found) == 1:
        message = said("{place}: one pin is no stack; measure a bottom and a top pin.", place=place)
        refusals.add("value", message, position)
    if len(found) > MOST_PINS:
        message = said(
            "{place}: at most {most} pins are read; shorten the list.", place=place, most=MOST_PINS
        )
        refusals.add("value", message, position)
    return found


def _is_length(value: object) -> TypeGuard[int | float]:
    return (
        isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 10 and isfinite(value)
    )
