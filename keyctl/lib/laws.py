"""The laws of the estate: what must hold over all data, however it got there. Each app names its own.

The database refuses most breaches itself. What spans tables, what was written past the program and what a
fault of ours left behind is found by looking (`operations/estate`).
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

# One sentence for each breach, one by one: memory stays bounded. It names the place and holds no bitting.
Look = Callable[[], Iterable[str]]


class NotLookedAt(Exception):
    """What is needed for looking is not there; that is no breach, and is told all the same."""

    def __init__(self, words: str) -> None:
        super().__init__(words)
        self.words = words


@dataclass(frozen=True)
class Law:
    name: str
    words: str
    look: Look
    remedy: str


_laws: dict[str, Law] = {}


def register_law(name: str, words: str, look: Look, remedy: str) -> None:
    """``words`` say what holds, ``remedy`` what to do where it does not."""
    _laws[name] = Law(name, words, look, remedy)


def known_laws() -> list[Law]:
    return [_laws[name] for name in sorted(_laws)]
