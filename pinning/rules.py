"""Rules that a shop adds to the adjacent-cut limit, and the exact number of bittings they leave.

Where only the adjacent-cut limit binds, the count is a transfer matrix: ways to reach each cut, position by
position. The other rules need more to be known of the cuts so far, so states are counted: the last cut, the
length of the run that it ends, and how often each depth was used as far as a rule asks for that. The span
needs no state: bittings of too small a span are those of a narrower set of depths.

>>> count_by_rules(6, range(10), Rules(macs=7))
753754
>>> count_by_rules(6, range(10), Rules(macs=7, max_run=2))
722828
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate

from pinning.budget import Budget

__all__ = ["LARGEST_COUNT", "Rules", "count_by_rules"]

# A step is one way of having used the depths, followed by one depth.
LARGEST_COUNT = 2_000_000
REMEDY = "Leave out max_equal or min_distinct, or count fewer positions or depths."

Ways = dict[int, list[int]]  # by the last depth's place, by the length of its run


@dataclass(frozen=True, slots=True)
class Rules:
    """What a bitting must keep to; None is no limit.

    `macs` is the greatest difference of adjacent cuts, `max_equal` how often one depth may occur in a
    bitting, `max_run` how often in a row, `min_distinct` how many different depths there are at least, and
    `min_span` the least difference of the deepest and the shallowest cut.
    """

    macs: int | None = None
    max_equal: int | None = None
    max_run: int | None = None
    min_distinct: int = 1
    min_span: int = 0


def count_by_rules(
    positions: int, depths: Sequence[int], rules: Rules, most_steps: int = LARGEST_COUNT
) -> int:
    """How many bittings of `positions` cuts out of `depths` keep to the rules.

    Raises `Refused` (code `too_large`) if counting takes more than `most_steps`.
    """
    budget = Budget(most_steps, "The count", REMEDY)
    values = tuple(sorted(set(depths)))
    return _words(positions, values, rules, budget) - sum(
        _words(positions, window, rules, budget) - _words(positions, window[1:], rules, budget)
        for window in _windows(values, rules.min_span)
    )


def _windows(values: tuple[int, ...], span: int) -> Iterator[tuple[int, ...]]:
    """Per shallowest cut, the cuts of the bittings that have it and too small a span."""
    for shallowest in values if span > 0 else ():
        yield tuple(value for value in values if shallowest <= value < shallowest + span)


def _words(positions: int, values: tuple[int, ...], rules: Rules, budget: Budget) -> int:
    """Bittings of these depths that keep to every rule but the span."""
    if not values or rules.min_distinct > min(len(values), positions):
        return 0
    if rules.max_equal is not None and rules.max_equal * len(values) < positions:
        return 0
    binding = _binding(positions, values, rules)
    if binding == Rules(macs=binding.macs):
        budget.spend(positions * len(values))
        return _transfer(positions, values, binding.macs)
    return _Walk(values, binding).count(positions, budget)


def _transfer(positions: int, values: tuple[int, ...], macs: int | None) -> int:
    """Bittings under the adjacent-cut limit alone. The cuts near a cut lie side by side, so the ways to
    reach them are the difference of two running sums.
    """
    if macs is None:
        number: int = len(values) ** positions
        return number
    near = [(bisect_left(values, cut - macs), bisect_right(values, cut + macs)) for cut in values]
    ways = [1] * len(values)
    for _ in range(positions - 1):
        sums = [0, *accumulate(ways)]
        ways = [sums[above] - sums[below] for below, above in near]
    return sum(ways)


def _binding(positions: int, values: tuple[int, ...], rules: Rules) -> Rules:
    """The rules without those that forbid nothing here, so that no state is kept for them."""
    macs, equal, run = rules.macs, rules.max_equal, rules.max_run
    equal = None if equal is None or equal >= positions else equal
    run = None if run is None or run >= (positions if equal is None else equal) else run
    macs = None if macs is None or macs >= values[-1] - values[0] else macs
    return Rules(macs, equal, run, max(rules.min_distinct, 1))


class _Walk:
    """Counting states from position to position, under rules that all bind.

    States that have used the depths alike are kept together: by last depth, the ways by length of run.
    """

    def __init__(self, values: tuple[int, ...], rules: Rules) -> None:
        self.rules = rules
        self.kept = rules.max_equal or (1 if rules.min_distinct > 1 else 0)
        self.places = range(len(values))
        macs = rules.macs
        self.near = [
            [other for other in self.places if macs is None or abs(values[other] - value) <= macs]
            for value in values
        ]

    def count(self, positions: int, budget: Budget) -> int:
        layer: dict[bytes, Ways] = {bytes(len(self.places)): {}}
        for _ in range(positions):
            reached: dict[bytes, Ways] = {}
            for used, ways in layer.items():
                budget.spend(len(self.places))
                self._go_on(used, ways, reached)
            layer = reached
        return sum(_total(ways) for used, ways in layer.items() if self._is_varied(used))

    def _is_varied(self, used: bytes) -> bool:
        least = self.rules.min_distinct
        return least <= 1 or len(used) - used.count(0) >= least

    def _go_on(self, used: bytes, ways: Ways, reached: dict[bytes, Ways]) -> None:
        most = self.rules.max_equal
        totals = {last: sum(runs) for last, runs in ways.items()}
        for place in self.places:
            if most is not None and used[place] >= most:
                continue
            runs = self._runs(place, ways, totals)
            if any(runs):
                last, key = self._settled(place, used)
                _add(reached.setdefault(key, {}), last, runs)

    def _runs(self, place: int, ways: Ways, totals: dict[int, int]) -> list[int]:
        """By length of run, the ways that end in this depth; without a limit on runs, all in one number.

        Before the first position there is one way, and no last depth.
        """
        near = sum(totals.get(other, 0) for other in self.near[place]) if ways else 1
        limit = self.rules.max_run
        if limit is None:
            return [near]
        own = ways.get(place, [0] * limit)
        return [near - totals.get(place, 0), *own[:-1]]

    def _settled(self, place: int, used: bytes) -> tuple[int, bytes]:
        """(last depth, use of the depths). Without an adjacent-cut limit depths are alike but for their
        use, so the last one is put first and the others in order.
        """
        own = bytes((min(used[place] + 1, self.kept),))
        if self.rules.macs is not None:
            return place, used[:place] + own + used[place + 1 :]
        return 0, own + bytes(sorted(used[:place] + used[place + 1 :]))


def _add(reached: Ways, last: int, runs: list[int]) -> None:
    there = reached.get(last)
    reached[last] = runs if there is None else [a + b for a, b in zip(there, runs, strict=True)]


def _total(ways: Ways) -> int:
    return sum(map(sum, ways.values()))
