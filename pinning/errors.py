"""What the package raises, and a collector so that an input hears every reason at once.

>>> refusals = Refusals()
>>> refusals.add("length", "The key has 5 cuts; the core has 6 positions: read it again.")
>>> refusals.add("depth", "Position 2: 'x' is no depth; use 0123456789.", 2)
>>> try:
...     refusals.stop()
... except Refused as refused:
...     [(refusal.code, refusal.position) for refusal in refused.refusals]
[('length', None), ('depth', 2)]
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TypeVar

__all__ = ["PinningError", "Refusal", "Refusals", "Refused", "collect"]

Made = TypeVar("Made")


class PinningError(ValueError):
    """The root of everything this package raises on purpose."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """One reason. `message` names the place, the figure and a remedy; `position` counts from 1."""

    code: str
    message: str
    position: int | None = None


class Refused(PinningError):
    """An input that breaks a rule, with every reason found."""

    def __init__(self, refusals: Iterable[Refusal]) -> None:
        self.refusals = tuple(refusals)
        super().__init__(self.refusals)

    def __str__(self) -> str:
        return " ".join(refusal.message for refusal in self.refusals)


class Refusals:
    """Collects reasons; `stop` raises them together, or does nothing when there are none."""

    def __init__(self) -> None:
        self._found: list[Refusal] = []

    def __iter__(self) -> Iterator[Refusal]:
        return iter(self._found)

    def __len__(self) -> int:
        return len(self._found)

    def add(self, code: str, message: str, position: int | None = None) -> None:
        self._found.append(Refusal(code, message, position))

    def extend(self, refusals: Iterable[Refusal]) -> None:
        self._found.extend(refusals)

    def stop(self) -> None:
        if self._found:
            raise Refused(self._found)


def collect(refusals: Refusals, made: Callable[[], Made]) -> Made | None:
    """What `made` makes; None, and its reasons collected, when it refuses."""
    try:
        return made()
    except Refused as refused:
        refusals.extend(refused.refusals)
        return None
