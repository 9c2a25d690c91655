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

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import exp, log

from pinning.errors import Refusal, Refused
from pinning.evidence import Cuts, Row
from pinning.formats import CoreFormat

__all__ = ["MARGINS", "Found", "search", "shares_of"]

MARGINS = (20.0, 12.0, 8.0, 5.0, 2.0)
MOST_WORK = 3_000_000  # rows looked at, about a microsecond each
MOST_MASTERS = 5_000
TINY = 1e-300

Products = list[tuple[float, ...]]  # per row, per way: weight x factors so far


@dataclass(frozen=True, slots=True)
class Found:
    """The masters within `margin` of the best one, with the logarithm of the chance of their evidence."""

    masters: dict[Cuts, float] = field(repr=False)
    margin: float


class _TooMuch(Exception):
    """More masters come this close than can be followed."""


def search(format: CoreFormat, rows: Sequence[Row]) -> Found:
    """Raises `Refused` (code `too_large`) where even near ties are too many to follow."""
    for margin in MARGINS:
        try:
            return Found(_Search(format, rows, margin).run(), margin)
        except _TooMuch:
            continue
    message = "Too many top masters go with this evidence alike; decode more cores, or give keys."
    raise Refused([Refusal("too_large", message)])


class _Search:
    def __init__(self, format: CoreFormat, rows: Sequence[Row], margin: float) -> None:
        self.format, self.rows, self.margin = format, rows, margin
        self.left = MOST_WORK
        self.found: dict[Cuts, float] = {}
        self.rest = [_best_rest(row, format.positions) for row in rows]
        self.best = float("-inf")

    def run(self) -> dict[Cuts, float]:
        self._go_on((), [tuple(weight for weight, _ in row.ways) for row in self.rows])
        return {cuts: score for cuts, score in self.found.items() if score >= self.best - self.margin}

    def _go_on(self, cuts: Cuts, products: Products) -> None:
        if len(cuts) == self.format.positions:
            self._keep(cuts, products)
            return
        # The most promising cut first, so that the bound is sharp early.
        steps = [(self._bound(step, len(cuts) + 1), cut, step) for cut, step in self._steps(cuts, products)]
        for bound, cut, step in sorted(steps, key=lambda each: (-each[0], each[1])):
            if bound >= self.best - self.margin:
                self._go_on((*cuts, cut), step)

    def _keep(self, cuts: Cuts, products: Products) -> None:
        score = self._bound(products, len(cuts))
        self.best = max(self.best, score)
        self.found[cuts] = score
        if len(self.found) > MOST_MASTERS:
            self.found = {cuts: held for cuts, held in self.found.items() if held >= self.best - self.margin}
            if len(self.found) > MOST_MASTERS * 9 // 10:
                raise _TooMuch

    def _steps(self, cuts: Cuts, products: Products) -> Iterator[tuple[int, Products]]:
        place, macs = len(cuts), self.format.macs
        for cut in self.format.depth_values:
            if cuts and macs is not None and abs(cut - cuts[-1]) > macs:
                continue
            self.left -= len(self.rows) + 1
            if self.left < 0:
                raise _TooMuch
            yield (
                cut,
                [
                    tuple(
                        so_far * tables[place][cut]
                        for so_far, (_, tables) in zip(held, row.ways, strict=True)
                    )
                    for held, row in zip(products, self.rows, strict=True)
                ],
            )

    def _bound(self, products: Products, place: int) -> float:
        """No master that begins like this can be likelier; with all cuts given, its own score."""
        return sum(
            log(max(sum(a * b for a, b in zip(held, rest[place], strict=True)), TINY))
            for held, rest in zip(products, self.rest, strict=True)
        )


def _best_rest(row: Row, positions: int) -> list[tuple[float, ...]]:
    """By number of cuts given, per way: the best that the positions still open can add."""
    rest = [tuple(1.0 for _ in row.ways)]
    for place in reversed(range(positions)):
        best = (max(tables[place].values()) for _, tables in row.ways)
        rest.insert(0, tuple(more * after for more, after in zip(best, rest[0], strict=True)))
    return rest


def shares_of(scores: dict[Cuts, float]) -> dict[Cuts, float]:
    """Chances that add up to 1, likeliest first; alike ones in the order of their cuts."""
    best = max(scores.values())
    weights = {cuts: exp(score - best) for cuts, score in scores.items()}
    total = sum(weights.values())
    order = sorted(weights, key=lambda cuts: (-round(scores[cuts], 9), cuts))
    return {cuts: weights[cuts] / total for cuts in order}
