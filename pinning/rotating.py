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

from pinning.bittings import Bitting
from pinning.errors import Refusal, Refused
from pinning.progression import Progression

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
        """Those within the adjacent-cut limit, by (last cut, constants so far), without listing them."""
        ways: dict[tuple[int | None, int], int] = {(None, 0): 1}
        for place, own in enumerate(self.base.held.cuts):
            in_turn = place + 1 in self.base.sequence
            reached: dict[tuple[int | None, int], int] = {}
            for (last, held), number in ways.items():
                choices = [(cut, held) for cut in self.base.array[place] if in_turn]
                for cut, count in [(own, held + in_turn), *choices]:
                    if self._may_follow(last, cut) and count <= self.constants:
                        reached[cut, count] = reached.get((cut, count), 0) + number
            ways = reached
        return sum(number for (_, held), number in ways.items() if held == self.constants)

    def _may_follow(self, last: int | None, cut: int) -> bool:
        macs = self.base.format.macs
        return last is None or macs is None or abs(cut - last) <= macs

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

    def _parts(self) -> Iterator[Progression]:
        """One progression of the other positions for each choice of constants."""
        base = self.base
        for constant in combinations(reversed(base.sequence), self.constants):
            others = tuple(position for position in base.sequence if position not in constant)
            yield Progression(base.format, base.held, base.array, others)


def rotate(base: Progression, constants: int) -> Rotation:
    """The rotation of a progression's positions; raises `Refused` (code `constants`)."""
    if not 0 <= constants <= len(base.sequence):
        message = f"{len(base.sequence)} positions are progressed; {constants} of them cannot be held."
        raise Refused([Refusal("constants", message)])
    return Rotation(base, constants)
