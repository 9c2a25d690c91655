"""The top masters that go best with the evidence, by branch and bound over all bittings.

The chance of a master is that of its evidence (see `evidence`) times that of the shop's habits (see
`habits`); before anything is seen, every bitting within the adjacent-cut limit is alike. The search gives
every master whose evidence is at most e^20 times less likely than the best one's, so what it leaves out
weighs next to nothing; where more come that close than the work allows, the margin shrinks, and `margin` says
to what.

>>> from pinning.formats import load
>>> from pinning.evidence import SeenCore, core_row
>>> a2 = load("small-a2-5")
>>> changes = [(3, 5, 7, 9, 3), (5, 3, 9, 7, 5), (9, 9, 3, 5, 7)]
>>> cores = [SeenCore(str(n), tuple((frozenset({1, cut}),) for cut in key)) for n, key in enumerate(changes)]
>>> found = search(a2, [core_row(a2, core) for core in cores])
>>> max(found.masters, key=found.masters.get)
(1, 1, 1, 1, 1)
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp
from typing import TYPE_CHECKING, Any

from pinning.errors import Refusal, Refused
from pinning.evidence import Cuts, Row
from pinning.formats import CoreFormat
from pinning.wording import said

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["MARGINS", "Found", "search", "shares_of"]

MARGINS = (20.0, 12.0, 8.0, 5.0, 2.0)
# Over all margins together: a position tried costs some microseconds, and some more per row.
MOST_WORK = 4_000_000
WORK_OF_A_STEP = 60
MOST_MASTERS = 5_000
TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Found:
    """The masters within `margin` of the best one, with the logarithm of the chance of their evidence."""

    masters: dict[Cuts, float] = field(repr=False)
    margin: float


class _TooMuch(Exception):
    """More masters come this close than can be followed."""


def search(format: CoreFormat, rows: Sequence[Row]) -> Found:
    """Raises `Refused` (code `too_large`) where even near ties are too many to follow."""
    table = _Table(format, rows)
    left = MOST_WORK
    for tried, margin in enumerate(MARGINS):
        # Half of what is left, so that a narrower search always has a part to itself.
        attempt = _Search(format, table, margin, left if tried == len(MARGINS) - 1 else left // 2)
        try:
            return Found(attempt.run(), margin)
        except _TooMuch:
            left -= attempt.spent
    message = said("Too many top masters go with this evidence alike; decode more cores, or give keys.")
    raise Refused([Refusal("too_large", message)])


class _Table:
    """The rows as numbers: by position and cut, each row's factors of its two ways."""

    def __init__(self, format: CoreFormat, rows: Sequence[Row]) -> None:
        import numpy as np

        self.numbers: Any = np
        places, depths = range(format.positions), format.depth_values
        self.weights: Array = np.array([[weight for weight, _ in row.ways] for row in rows])
        self.factors: list[Array] = [
            np.array([[[tables[place][cut] for _, tables in row.ways] for row in rows] for cut in depths])
            for place in places
        ]
        # By number of cuts given: the best that the positions still open can add to each way of each row.
        self.rest: list[Array] = [np.ones_like(self.weights)]
        for place in reversed(places):
            self.rest.insert(0, self.rest[0] * self.factors[place].max(axis=0))

    def steps(self, held: "Array", place: int) -> "tuple[Array, Array]":
        """By cut of that position: the products so far, and a bound that no master going on so exceeds.

        With the last position it is the master's own score.
        """
        reached = held * self.factors[place]
        chances = (reached * self.rest[place + 1]).sum(axis=2)
        return reached, self.numbers.log(self.numbers.maximum(chances, TINY)).sum(axis=1)


class _Search:
    def __init__(self, format: CoreFormat, table: _Table, margin: float, most_work: int) -> None:
        self.format, self.table, self.margin = format, table, margin
        self.most_work, self.spent = most_work, 0
        self.found: dict[Cuts, float] = {}
        self.best = float("-inf")

    def run(self) -> dict[Cuts, float]:
        self._go_on((), self.table.weights)
        return {cuts: score for cuts, score in self.found.items() if score >= self.best - self.margin}

    def _go_on(self, cuts: Cuts, held: "Array") -> None:
        self.spent += len(held) + WORK_OF_A_STEP
        if self.spent > self.most_work:
            raise _TooMuch
        reached, bounds = self.table.steps(held, len(cuts))
        # The most promising cut first, so that the best score is high early.
        for bound, place in sorted(zip(-bounds, range(len(bounds)), strict=True)):
            cut = self.format.depth_values[place]
            if -bound < self.best - self.margin or not self._may_follow(cuts, cut):
                continue
            if len(cuts) + 1 == self.format.positions:
                self._keep((*cuts, cut), float(-bound))
            else:
                self._go_on((*cuts, cut), reached[place])

    def _may_follow(self, cuts: Cuts, cut: int) -> bool:
        return not cuts or self.format.macs is None or abs(cut - cuts[-1]) <= self.format.macs

    def _keep(self, cuts: Cuts, score: float) -> None:
        self.best = max(self.best, score)
        self.found[cuts] = score
        if len(self.found) > MOST_MASTERS:
            self.found = {cuts: held for cuts, held in self.found.items() if held >= self.best - self.margin}
            if len(self.found) > MOST_MASTERS * 9 // 10:
                raise _TooMuch


def shares_of(scores: dict[Cuts, float]) -> dict[Cuts, float]:
    """Chances that add up to 1, likeliest first; alike ones in the order of their cuts."""
    best = max(scores.values())
    weights = {cuts: exp(score - best) for cuts, score in scores.items()}
    total = sum(weights.values())
    order = sorted(weights, key=lambda cuts: (-round(scores[cuts], 9), cuts))
    return {cuts: weights[cuts] / total for cuts in order}
