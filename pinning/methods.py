"""The methods of progression by name, and what their keys have in common.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.progression import progress
>>> a2 = load("small-a2-6")
>>> base = progress(a2, parse_bitting(a2, "143254"))
>>> [by_method(base, method, 1).total for method in METHODS]
[4096, 6144, 15624]
"""

from collections.abc import Iterator
from typing import Protocol

from pinning.bittings import Bitting
from pinning.partial import loosen
from pinning.progression import Progression
from pinning.rotating import rotate

__all__ = ["METHODS", "Keys", "by_method"]

METHODS = ("total", "rotating", "partial")


class Keys(Protocol):
    """Keys below a master, in order: by index all of them, by rank those that may be cut."""

    @property
    def total(self) -> int: ...

    @property
    def usable_total(self) -> int: ...

    def __getitem__(self, index: int) -> Bitting: ...

    def between(self, first: int, end: int) -> Iterator[Bitting]: ...

    def usable(self) -> Iterator[Bitting]: ...

    def nth_usable(self, index: int) -> Bitting: ...


def by_method(base: Progression, method: str, constants: int) -> Keys:
    """The keys of a progression's positions by that method; `constants` count for "rotating" alone.

    Raises `Refused` as `rotate` does.
    """
    if method == "rotating":
        return rotate(base, constants)
    return loosen(base) if method == "partial" else base
