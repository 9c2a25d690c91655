"""Partial position progression: change keys that may keep the master's cut in some positions.

Taken here: every position of the sequence may carry the master's cut or one of the array, and one at least
differs, so that P positions of b cuts make (b + 1)^P - 1 keys: those of the rotating constant with any
number of constants, and of total position progression, together. The trade also says partial progression
where the same positions hold the master's cut throughout and the others are progressed (Keynotes 2014-09
p.11-12): for that, leave them out of the sequence of a total progression.

Beware: a core turns for every key whose cuts are its own or a master's. A key that keeps more of the
master's cuts than another, and is like it elsewhere, turns that other's core. So these keys are not all
apart from each other, unlike those of the other two methods; they show all there is below a master, and
whoever issues some must see to it that they are apart (`pinning.extending` does).

>>> from pinning.bittings import parse_bitting
>>> from pinning.formats import load
>>> from pinning.progression import progress
>>> a2 = load("small-a2-6")
>>> keys = loosen(progress(a2, parse_bitting(a2, "143254"), sequence=[6, 5]))
>>> keys.total, keys[0].text, keys[3].text, keys[4].text
(24, '143250', '143258', '143214')
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice

from pinning.abiding import keeps
from pinning.bittings import Bitting
from pinning.progression import Progression

__all__ = ["Partial", "loosen"]


@dataclass(frozen=True, slots=True)
class Partial:
    """The keys by index: `wide` is the progression whose array has the master's cut first in each column, so
    that its index 0 is the master itself, which is left out.
    """

    wide: Progression

    @property
    def total(self) -> int:
        """All keys, whether they keep to the rules or not."""
        return self.wide.total - 1

    @property
    def usable_total(self) -> int:
        """Those that keep to the rules, without listing them."""
        return self.wide.usable_total - self._master_is_usable

    def __getitem__(self, index: int) -> Bitting:
        """The bitting of that index, from 0; raises IndexError outside."""
        if not 0 <= index < self.total:
            raise IndexError(f"index {index} is outside a progression of {self.total}")
        return self.wide[index + 1]

    def between(self, first: int, end: int) -> Iterator[Bitting]:
        """The bittings of the indexes from `first` to before `end`."""
        return self.wide.between(max(first, 0) + 1, end + 1)

    def usable(self) -> Iterator[Bitting]:
        """The bittings that may be cut, in the order of their indexes."""
        return islice(self.wide.usable(), self._master_is_usable, None)

    def nth_usable(self, index: int) -> Bitting:
        """The usable bitting of that rank, from 0; raises IndexError outside."""
        if index < 0:
            raise IndexError(f"index {index} is outside {self.usable_total} usable bittings")
        return self.wide.nth_usable(index + self._master_is_usable)

    @property
    def _master_is_usable(self) -> int:
        return int(keeps(self.wide.limits, self.wide.held.cuts))


def loosen(base: Progression) -> Partial:
    """The partial progression of a progression's positions and array."""
    array = tuple((own, *column) for own, column in zip(base.held.cuts, base.array, strict=True))
    return Partial(replace(base, array=array))
