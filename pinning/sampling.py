"""How many bittings turn some core, estimated where counting them exactly takes too long.

Never exact: an `Estimate` carries the interval in which the number lies with the stated confidence, and is to
be shown as an estimate. Boxes are drawn in proportion to the bittings in them, and a bitting out of the box;
one over the number of boxes that hold it is then, in the mean, the union's share of all boxes together
(the union sampler of Karp, Luby and Madras 1989, Journal of Algorithms 10:429). The interval is the empirical
Bernstein bound, which assumes nothing of how the shares are spread.

>>> from random import Random
>>> from pinning.rules import Rules
>>> found = estimate_union([((1, 2), (1, 2)), ((2, 3), (2, 3))], Rules(), Random(1), samples=5_000)
>>> found.low <= 7 <= found.high, found.samples
(True, 5000)
"""

from bisect import bisect_right
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import accumulate
from math import log, sqrt
from operator import and_
from random import Random

from pinning.abiding import keeps
from pinning.rules import Rules

__all__ = ["Estimate", "estimate_union"]

SAMPLES = 20_000
CONFIDENCE = 0.99

Box = tuple[tuple[int, ...], ...]
Ahead = list[dict[int, int]]  # by position and cut, the ways to go on to the end


@dataclass(frozen=True, slots=True)
class Estimate:
    """Not a count: `value` is the best guess, and the number lies from `low` to `high` with `confidence`."""

    value: int
    low: int
    high: int
    confidence: float
    samples: int


def estimate_union(
    boxes: Collection[Sequence[Sequence[int]]],
    rules: Rules,
    rng: Random,
    samples: int = SAMPLES,
    confidence: float = CONFIDENCE,
) -> Estimate:
    """About how many bittings that keep to `rules` lie in at least one of the boxes.

    All boxes have the same number of positions, one at least; two samples at least are drawn.
    """
    distinct = sorted({tuple(map(tuple, box)) for box in boxes if all(box)})
    drawn = _Boxes(distinct, rules)
    if not drawn.total:
        return Estimate(0, 0, 0, confidence, 0)
    shares = [drawn.share(rng) for _ in range(samples)]
    mean = sum(shares) / samples
    spread = sum((share - mean) ** 2 for share in shares) / samples
    margin = _margin(spread, samples, confidence)
    low, high = max(mean - margin, 0), min(mean + margin, 1)
    value, least, most = (round(share * drawn.total) for share in (mean, low, high))
    return Estimate(value, least, most, confidence, samples)


def _margin(spread: float, samples: int, confidence: float) -> float:
    """Empirical Bernstein: how far a mean of so many draws from 0 to 1 lies from the truth at most."""
    doubt = log(3 / (1 - confidence))
    return sqrt(2 * spread * doubt / samples) + 3 * doubt / samples


class _Boxes:
    """Boxes to draw from, and one bit per box by position and cut to see which of them hold a bitting."""

    def __init__(self, boxes: list[Box], rules: Rules) -> None:
        self.boxes, self.rules = boxes, rules
        self.ahead = [_ahead(box, rules.macs) for box in boxes]
        self.ends = list(accumulate(sum(ahead[0].values()) for ahead in self.ahead))
        self.total = self.ends[-1] if self.ends else 0
        self.rows: list[dict[int, int]] = [{} for _ in boxes[0]] if boxes else []
        for number, box in enumerate(boxes):
            for row, column in zip(self.rows, box, strict=True):
                for cut in column:
                    row[cut] = row.get(cut, 0) | 1 << number

    def share(self, rng: Random) -> float:
        """One draw: one over the number of boxes that hold it; 0 if it breaks a rule."""
        cuts = tuple(_drawn(self.ahead[bisect_right(self.ends, rng.randrange(self.total))], self.rules, rng))
        if not keeps(self.rules, cuts):
            return 0.0
        held = reduce(and_, (row[cut] for row, cut in zip(self.rows, cuts, strict=True)))
        return 1 / held.bit_count()


def _ahead(box: Box, macs: int | None) -> Ahead:
    """How many bittings of the box within the adjacent-cut limit begin with each cut, by position."""
    ways: Ahead = []
    for column in reversed(box):
        onward = ways[-1] if ways else None
        ways.append({cut: 1 if onward is None else _onward(onward, cut, macs) for cut in column})
    return ways[::-1]


def _onward(ways: dict[int, int], cut: int, macs: int | None) -> int:
    return sum(number for next_cut, number in ways.items() if macs is None or abs(next_cut - cut) <= macs)


def _drawn(ahead: Ahead, rules: Rules, rng: Random) -> Iterator[int]:
    """A bitting of the box, each with the same chance."""
    last: int | None = None
    for ways in ahead:
        near = {
            cut: number
            for cut, number in ways.items()
            if last is None or rules.macs is None or abs(cut - last) <= rules.macs
        }
        left = rng.randrange(sum(near.values()))
        for cut, number in near.items():
            left -= number
            if left < 0:
                last = cut
                yield cut
                break
