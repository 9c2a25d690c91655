"""Words that the face of the tables has no signs for: another script, a sign read from right to left.

WeasyPrint sets these in the same place, with whatever fonts the machine has.
"""

from dataclasses import dataclass, field
from typing import Any

from keyctl.prints.press.blocks import Area
from keyctl.prints.press.face import covers
from keyctl.prints.press.ink import Pen
from keyctl.prints.press.tree import PageTree


@dataclass(frozen=True)
class Stray:
    """Where it stands in its area, in points."""

    text: str
    left: float
    top: float
    size: float


class _NoTree(PageTree):
    def __init__(self) -> None:
        """Nothing is kept."""

    def node(self, kind: str, parent: Any, extra: str = "") -> Any:  # noqa: ARG002
        return None

    def leaf(self, kind: str, parent: Any, extra: str = "") -> int:  # noqa: ARG002
        return 0


@dataclass
class _Finder(Pen):
    found: list[Stray] = field(default_factory=list)

    def _shown(self, text: str, size: float, across: float, base: float) -> str:
        if not covers(text):
            self.found.append(Stray(text, across, base - size, size))
        return ""

    def _upwards(self, text: str, size: float, across: float, base: float) -> str:
        return self._shown(text, size, across, base)


def strays_of(area: Area) -> list[Stray]:
    if all(map(covers, area.texts)):
        return []
    finder = _Finder(None, _NoTree(), 0, 0, 0)  # type: ignore[arg-type]
    finder.area(area, None)
    return finder.found
