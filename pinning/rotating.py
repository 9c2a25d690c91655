"""The rotating constant method: change keys that hold the master's cut in so many positions, in every choice.

The positions of the sequence share out the constants: every choice of `constants` of them keeps the
master's cuts while the others run through the array, so there are C(P, m) x b^(P - m) keys where each of P
positions has b cuts in the array. Positions left out of the sequence hold the master's cut in every key and
are no constants.

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.progression import progress
>>> a2 = load("small-a2-6")
>>> keys = rotate(progress(a2, parse_bitting(a2, "143254")), 3)
>>> keys.total, keys[0].text, keys[64].text
(1280, '143010', '141210')
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from math import prod

from pinning.bittings import Bitting
from pinning.errors import Refusal, Refused
from pinning.progression import Progression
from pinning.rules import count_in_columns
from pinning.wording import said

__all__ = ["Rotation", "rotate"]


@dataclass(frozen=True, slots=True)
class Rotation:
    """The keys by index: choice by choice, those that hold the slowest positions of the sequence first."""

    base: Progression
    constants: int

    @property
    def total(self) -> int:
        """All keys, within the adjacent-cut limit or not."""
        return sum(part.total for part in self._parts())

    @property
    def usable_total(self) -> int:
        """Those that keep to the rules, without listing them.

        The master's cut counts as a power of `unit` and any other once: the sum is then written to that base,
        and its digit of that place is the number of keys with so many constants.
        """
        base = self.base
        in_turn = [place + 1 in base.sequence for place in range(len(base.held.cuts))]
        columns = [
            (own, *column) if moved else (own,)
            for own, column, moved in zip(base.held.cuts, base.array, in_turn, strict=True)
        ]
        unit = prod(map(len, columns)) + 1
        weights = [{own: unit} if moved else {} for own, moved in zip(base.held.cuts, in_turn, strict=True)]
        found = count_in_columns(columns, base.limits, weights=weights)
        digit: int = found // unit**self.constants % unit
        return digit

    def __getitem__(self, index: int) -> Bitting:
        """The bitting of that index, from 0; raises IndexError outside."""
        for bitting in self.between(index, index + 1) if index >= 0 else ():
            return bitting
        raise IndexError(f"index {index} is outside a progression of {self.total}")

    def between(self, first: int, end: int) -> Iterator[Bitting]:
        """The bittings of the indexes from `first` to before `end`."""
        start = 0
        for part in self._parts():
            total = part.total
            for index in range(max(first - start, 0), min(end - start, total)):
                yield part[index]
            start += total
            if start >= end:
                return

    def usable(self) -> Iterator[Bitting]:
        """The bittings that may be cut, in the order of their indexes."""
        for part in self._parts():
            yield from part.usable()

    def nth_usable(self, index: int) -> Bitting:
        """The usable bitting of that rank, from 0; raises IndexError outside."""
        left = index
        for part in self._parts() if index >= 0 else ():
            if left < (number := part.usable_total):
                return part.nth_usable(left)
            left -= number
        raise IndexError(f"index {index} is outside {self.usable_total} usable bittings")

    def _parts(self) -> Iterator[Progression]:
        """One progression of the other positions for each choice of constants."""
        base = self.base
        for constant in combinations(reversed(base.sequence), self.constants):
            others = tuple(position for position in base.sequence if position not in constant)
            yield Progression(base.format, base.held, base.array, others, base.rules)


def rotate(base: Progression, constants: int) -> Rotation:
    """The rotation of a progression's positions; raises `Refused` (code `constants`)."""
    if not 0 <= constants <= len(base.sequence):
        message = said(
            "{positions} positions are progressed; {held} of them cannot be held.",
            positions=len(base.sequence),
            held=constants,
        )
        raise Refused([Refusal("constants", message)])
    return Rotation(base, constants)
