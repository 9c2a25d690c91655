"""Reading the fields of a JSON or TOML object, with every wrong field reported in one go.

A reader that finds a wrong field records why and gives back a harmless stand-in, so that reading goes on;
`read` tells a later check whether the fields it compares were read well. Nothing built from stand-ins gets
out: the caller ends with `refusals.stop()`.
"""

from collections.abc import Mapping
from math import isfinite
from typing import TypeGuard

from pinning.errors import Refusals
from pinning.wording import said

__all__ = ["Fields", "is_integer", "sizes_text"]


def is_integer(value: object) -> TypeGuard[int]:
    """True for 3; False for True and 3.0, which JSON writers confuse with it."""
    return isinstance(value, int) and not isinstance(value, bool)


def sizes_text(sizes: tuple[int, ...]) -> str:
    """Sizes as a person reads them.

    >>> sizes_text((2, 3, 4, 7))
    '2-4, 7'
    >>> sizes_text(())
    'none'
    """
    runs: list[list[int]] = []
    for size in sorted(sizes):
        if runs and size == runs[-1][-1] + 1:
            runs[-1].append(size)
        else:
            runs.append([size])
    ranges = [f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs]
    return ", ".join(ranges) if ranges else said("none")


class Fields:
    """One object's fields. `place` leads every message: 'format', 'stack 3', 'pins'."""

    def __init__(
        self,
        source: object,
        place: str,
        refusals: Refusals,
        known: tuple[str, ...],
        holder: "tuple[Fields, str] | None" = None,
    ) -> None:
        self.place = place
        self._holder = holder
        self.refusals = refusals
        self._wrong: set[str] = set()
        self._source: dict[str, object] = {}
        if not isinstance(source, Mapping):
            self._spoil(*known)
            message = said(
                "{place}: an object is expected; give its fields {known}.", place=place, known=known
            )
            refusals.add("type", message)
            return
        self._source = {str(name): value for name, value in source.items()}
        for name in sorted(self._source.keys() - set(known)):
            message = said(
                "{place}: {name} is no field; use {known}.", place=place, name=repr(name[:40]), known=known
            )
            refusals.add("unknown_field", message)

    def has(self, name: str) -> bool:
        """True if the field is there and not null."""
        return self._source.get(name) is not None

    def read(self, *names: str) -> bool:
        """True if none of these fields has been refused."""
        return self._wrong.isdisjoint(names)

    def refuse(self, name: str, code: str, reason: str, position: int | None = None) -> None:
        self._spoil(name)
        message = said("{place}, {field}: {reason}", place=self.place, field=name, reason=reason)
        self.refusals.add(code, message, position)

    def _spoil(self, *names: str) -> None:
        """Marks fields as wrong, and with them the field of the outer object that holds them."""
        self._wrong.update(names)
        if self._holder:
            outer, name = self._holder
            outer._spoil(name)

    def value(self, name: str) -> object:
        """The field as it came; refused when it is missing or null."""
        if not self.has(name) and self.read(name):
            self.refuse(name, "missing", said("this field is missing; give it."))
        return self._source.get(name)

    def optional(self, name: str) -> object:
        """The field as it came, None when it is missing."""
        return self._source.get(name)

    def integer(self, name: str, low: int, high: int) -> int:
        value = self.value(name)
        if self.read(name) and not is_integer(value):
            self.refuse(name, "type", said("a whole number is expected; correct it."))
        if is_integer(value) and low <= value <= high:
            return value
        if self.read(name):
            reason = said("a number from {low} to {high} is expected; correct it.", low=low, high=high)
            self.refuse(name, "value", reason)
        return low

    def integer_or_none(self, name: str, low: int, high: int) -> int | None:
        return self.integer(name, low, high) if self.has(name) else None

    def length(self, name: str) -> float:
        """A length in inches, more than 0 and less than 10."""
        value = self.value(name)
        if isinstance(value, int | float) and not isinstance(value, bool) and 0 < value < 10:
            return float(value) if isfinite(value) else 0.0
        if self.read(name):
            reason = said("a length in inches is expected, more than 0 and less than 10.")
            self.refuse(name, "value", reason)
        return 0.0

    def length_or_none(self, name: str) -> float | None:
        return self.length(name) if self.has(name) else None

    def text(self, name: str, longest: int, default: str | None = None) -> str:
        """A text of 1 to `longest` printable characters."""
        if default is not None and not self.has(name):
            return default
        value = self.value(name)
        if isinstance(value, str) and 0 < len(value) <= longest and value.isprintable():
            return value
        if self.read(name) and isinstance(value, str):
            reason = said("1 to {longest} printable characters are expected; correct it.", longest=longest)
            self.refuse(name, "value", reason)
        elif self.read(name):
            self.refuse(name, "type", said("a text is expected; correct it."))
        return ""

    def flag(self, name: str) -> bool:
        """True or false; false where it is missing."""
        value = self.optional(name)
        if self.has(name) and not isinstance(value, bool):
            self.refuse(name, "type", said("true or false is expected; correct it."))
        return value is True

    def choice(self, name: str, choices: tuple[str, ...]) -> str:
        value = self.value(name)
        if value in choices:
            return str(value)
        if self.read(name):
            self.refuse(name, "value", said("use one of {choices}.", choices=choices))
        return choices[0]

    def items(self, name: str, most: int) -> list[object]:
        """A list of at most `most` items of any kind."""
        value = self.value(name)
        if isinstance(value, list | tuple) and len(value) <= most:
            return list(value)
        if self.read(name) and isinstance(value, list | tuple):
            reason = said("at most {most} entries are allowed; shorten the list.", most=most)
            self.refuse(name, "value", reason)
        elif self.read(name):
            self.refuse(name, "type", said("a list is expected; correct it."))
        return []

    def integers(self, name: str, low: int, high: int, most: int = 1000) -> tuple[int, ...]:
        found = self.items(name, most)
        numbers = tuple(item for item in found if is_integer(item) and low <= item <= high)
        if len(numbers) < len(found):
            reason = said(
                "whole numbers from {low} to {high} are expected; correct the list.", low=low, high=high
            )
            self.refuse(name, "value", reason)
        return numbers

    def part(self, name: str, known: tuple[str, ...]) -> "Fields":
        """The fields of an object inside this one."""
        value = self.value(name)
        place = said("{place}, {field}", place=self.place, field=name)
        if not self.read(name):
            return Fields({}, place, Refusals(), known)
        return Fields(value, place, self.refusals, known, (self, name))
