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

__all__ = ["DEFAULT_TOLERANCE_IN", "parse_columns", "parse_lengths", "parse_tolerance"]

DEFAULT_TOLERANCE_IN = 0.002
MOST_PINS = 100
Lengths = tuple[float, ...]


def parse_lengths(lengths: object, place: str, refusals: Refusals, position: int | None = None) -> Lengths:
    """A list of inches, each more than 0 and less than 10 (codes `type`, `value`)."""
    if not isinstance(lengths, list | tuple):
        refusals.add("type", f"{place}: a list of inches is expected; correct it.", position)
    elif not all(map(_is_length, lengths)):
        message = f"{place}: lengths in inches are expected; give numbers of more than 0 and less than 10."
        refusals.add("value", message, position)
    else:
        return tuple(map(float, lengths))
    return ()


def parse_columns(format: CoreFormat, columns: object, refusals: Refusals) -> tuple[Lengths, ...]:
    """Per position the pins' lengths from the key upwards; an empty list is a position without pins.

    Codes: `type`, `value`, and `positions` if not each position of the format is there.
    """
    if not isinstance(columns, list | tuple):
        refusals.add("type", "measured_in: one list of inches per position is expected; correct it.")
        return ()
    if len(columns) != format.positions:
        message = f"measured_in: {len(columns)} positions are given; give each from 1 to {format.positions}."
        refusals.add("positions", message)
    return tuple(_column(column, place, refusals) for place, column in enumerate(columns, 1))


def parse_tolerance(tolerance_in: object, refusals: Refusals) -> float:
    """How far a length may lie from what it should be (code `value`)."""
    if _is_length(tolerance_in):
        return float(tolerance_in)
    refusals.add("value", "tolerance_in: inches are expected; give a number of more than 0 and less than 10.")
    return DEFAULT_TOLERANCE_IN


def _column(column: object, position: int, refusals: Refusals) -> Lengths:
    place = f"measured_in, position {position}"
    found = parse_lengths(column, place, refusals, position)
    if len(found) == 1:
        refusals.add("value", f"{place}: one pin is no stack; measure a bottom and a top pin.", position)
    if len(found) > MOST_PINS:
        refusals.add("value", f"{place}: at most {MOST_PINS} pins are read; shorten the list.", position)
    return found


def _is_length(value: object) -> TypeGuard[int | float]:
    return (
        isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 10 and isfinite(value)
    )
