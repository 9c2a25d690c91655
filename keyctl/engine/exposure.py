"""What cores let in beyond their keys: figures of one core, unions of many, and keys that nearly turn one."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from random import SystemRandom
from typing import Self

import pinning.errors
from keyctl.engine.formats import load_format
from pinning.bittings import Bitting
from pinning.exposure import Exposure, Leaner, expose, pinned_for, without_each
from pinning.incidental import unplanned_estimate, unplanned_total
from pinning.nearness import CONTROL_LINE, OPERATING_LINE, NearKeys, lines_of
from pinning.sampling import Estimate
from pinning.shear import operating_cuts, withdrawing_cuts
from pinning.stacks import Pinning

__all__ = [
    "CONTROL_LINE",
    "OPERATING_LINE",
    "Counted",
    "Exposure",
    "Leaner",
    "NearKeys",
    "box_at",
    "count_unplanned",
    "expose",
    "lines_of",
    "pinned_for",
    "without_each",
]

Box = tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Counted:
    """A number of bittings: exact, or an estimate that lies between two others."""

    number: int
    low: int
    high: int

    @property
    def is_exact(self) -> bool:
        return self.low == self.high

    @classmethod
    def exactly(cls, number: int) -> Self:
        return cls(number, number, number)

    @classmethod
    def about(cls, found: Estimate) -> Self:
        """An interval has two ends even where both were drawn alike: what was not counted is not exact."""
        return cls(found.value, found.low, max(found.high, found.low + 1))


def count_unplanned(format_id: str, boxes: Iterable[Box], keys: Sequence[Bitting]) -> Counted:
    """How many legal bittings lie in a box and are none of the keys; estimated where no count is possible."""
    chosen, listed = load_format(format_id), list(boxes)
    try:
        return Counted.exactly(unplanned_total(chosen, listed, keys))
    except pinning.errors.Refused:
        return Counted.about(unplanned_estimate(chosen, listed, keys, SystemRandom()))


def box_at(pinned: Pinning, line: str) -> Box:
    """Per position the cuts that clear a line, for keys on ordinary blanks."""
    return operating_cuts(pinned) if line == OPERATING_LINE else withdrawing_cuts(pinned)
