"""Rules that a shop adds to the adjacent-cut limit, and the exact number of bittings they leave.

Where only the adjacent-cut limit binds, the count is a transfer matrix: ways to reach each cut, position by
position. The other rules need more to be known of the cuts so far, so states are counted: the last cut, the
length of the run that it ends, and how often each depth was used as far as a rule asks for that. The span
needs no state: bittings of too small a span are those of a narrower set of depths. Every position may have
cuts of its own to choose from, and a cut a weight that counts it several times.

>>> count_by_rules(6, range(10), Rules(macs=7))
753754
>>> count_by_rules(6, range(10), Rules(macs=7, max_run=2))
722828
>>> count_in_columns([(0, 9), (0, 5, 9), (9,)], Rules(macs=5, max_run=1))
2
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, pairwise
from math import prod

from pinning.budget import Budget
from pinning.wording import said

__all__ = ["LARGEST_COUNT", "NO_RULES", "Rules", "count_by_rules", "count_in_columns", "nth_in_columns"]

# A step is one way of having used the depths, followed by one depth.
LARGEST_COUNT = 2_000_000
REMEDY = said("Leave out max_equal or min_distinct, or count fewer positions or depths.")

Column = tuple[int, ...]
Columns = Sequence[Column]
Weights = Sequence[Mapping[int, int]]  # by position, the cuts that count otherwise than once
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

    @property
    def only_limit(self) -> bool:
        """True where nothing but the adjacent-cut limit is asked."""
        return self == Rules(macs=self.macs)


NO_RULES = Rules()


def count_by_rules(
    positions: int, depths: Iterable[int], rules: Rules, most_steps: int = LARGEST_COUNT
) -> int:
    """How many bittings of `positions` cuts out of `depths` keep to the rules.

    Raises `Refused` (code `too_large`) if counting takes more than `most_steps`.
    """
    return count_in_columns([tuple(sorted(set(depths)))] * positions, rules, most_steps)


def count_in_columns(
    columns: Sequence[Sequence[int]],
    rules: Rules,
    most_steps: int = LARGEST_COUNT,
    weights: Weights = (),
) -> int:
    """How many bittings take one cut of each position's column and keep to the rules.

    With `weights` a bitting counts as often as the product of its cuts' weights says. Raises `Refused` (code
    `too_large`) if counting takes more than `most_steps`.
    """
    sorted_columns = _in_order(columns)
    budget = Budget(most_steps, said("The count"), REMEDY)
    words = _words(sorted_columns, rules, weights, budget)
    for window in _windows(sorted_columns, rules.min_span):
        words -= _words(_within(sorted_columns, window), rules, weights, budget)
        words += _words(_within(sorted_columns, window[1:]), rules, weights, budget)
    return words


def nth_in_columns(
    columns: Sequence[Sequence[int]], order: Sequence[int], rules: Rules, index: int
) -> Column:
    """The bitting of that rank among those that keep to the rules, found by counting what lies before it.

    `order` names the places (from 0) from the slowest to the fastest; each runs through its column as it
    stands. Places it leaves out have one cut. Raises IndexError outside.

    >>> nth_in_columns([(0, 9), (0, 9)], [1, 0], Rules(macs=5), 1)
    (9, 9)
    """
    fixed = [tuple(column) for column in columns]
    left = index
    for place in order:
        for cut in columns[place]:
            fixed[place] = (cut,)
            number = count_in_columns(fixed, rules)
            if left < number:
                break
            left -= number
        else:
            raise IndexError(f"index {index} is outside")
    if not order and index >= count_in_columns(fixed, rules):
        raise IndexError(f"index {index} is outside")
    return tuple(column[0] for column in fixed)


def _in_order(columns: Sequence[Sequence[int]]) -> list[Column]:
    """Equal columns stay one object, so that much is worked out once for all of them."""
    kept = {column: tuple(sorted(set(column))) for column in {tuple(column) for column in columns}}
    return [kept[tuple(column)] for column in columns]


def _windows(columns: Columns, span: int) -> Iterator[Column]:
    """Per shallowest cut, the cuts of the bittings that have it and too small a span."""
    values = sorted({cut for column in columns for cut in column}) if span > 0 else []
    for shallowest in values:
        yield tuple(value for value in values if shallowest <= value < shallowest + span)


def _within(columns: Columns, window: Column) -> list[Column]:
    chosen = set(window)
    kept = {column: tuple(cut for cut in column if cut in chosen) for column in set(columns)}
    return [kept[column] for column in columns]


def _words(columns: Columns, rules: Rules, weights: Weights, budget: Budget) -> int:
    """Bittings of these columns that keep to every rule but the span."""
    values = tuple(sorted(set().union(*columns)))
    if not all(columns) or rules.min_distinct > min(len(values), len(columns)):
        return int(not columns and rules.min_distinct <= 1)
    if rules.max_equal is not None and rules.max_equal * len(values) < len(columns):
        return 0
    binding = _binding(len(columns), values, rules)
    if binding.only_limit:
        budget.spend(sum(map(len, columns)))
        return _transfer(columns, binding.macs, weights)
    return _Walk(columns, values, binding, weights).count(budget)


def _transfer(columns: Columns, macs: int | None, weights: Weights) -> int:
    """Bittings under the adjacent-cut limit alone. The cuts near a cut lie side by side, so the ways to
    reach them are the difference of two running sums.
    """
    if macs is None:
        return prod(map(sum, _weighted(columns, weights))) if weights else prod(map(len, columns))
    factors = _weighted(columns, weights) if weights else None
    ways = factors[0] if factors else [1] * len(columns[0])
    for place, (before, column) in enumerate(pairwise(columns), 1):
        sums = [0, *accumulate(ways)]
        ways = [sums[above] - sums[below] for below, above in _near(before, column, macs)]
        if factors:
            ways = [number * factor for number, factor in zip(ways, factors[place], strict=True)]
    return sum(ways)


def _weighted(columns: Columns, weights: Weights) -> list[list[int]]:
    return [[factors.get(cut, 1) for cut in column] for column, factors in zip(columns, weights, strict=True)]


@lru_cache(maxsize=4096)
def _near(before: Column, column: Column, macs: int) -> list[tuple[int, int]]:
    """Per cut of a column, from where to where the cuts of the column before may stand next to it."""
    return [(bisect_left(before, cut - macs), bisect_right(before, cut + macs)) for cut in column]


def _binding(positions: int, values: Column, rules: Rules) -> Rules:
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

    def __init__(self, columns: Columns, values: Column, rules: Rules, weights: Weights) -> None:
        self.rules = rules
        self.kept = rules.max_equal or (1 if rules.min_distinct > 1 else 0)
        self.size = len(values)
        self.open = [[values.index(cut) for cut in column] for column in columns]
        self.factors = _weighted(columns, weights) if weights else [[1] * len(c) for c in columns]
        # Without an adjacent-cut limit depths are alike but for their use, if all positions have them all.
        self.alike = rules.macs is None and not weights and all(len(c) == self.size for c in columns)
        macs = rules.macs
        self.near = [
            [other for other in range(self.size) if macs is None or abs(values[other] - value) <= macs]
            for value in values
        ]

    def count(self, budget: Budget) -> int:
        layer: dict[bytes, Ways] = {bytes(self.size): {}}
        for places, factors in zip(self.open, self.factors, strict=True):
            reached: dict[bytes, Ways] = {}
            for used, ways in layer.items():
                budget.spend(len(places))
                self._go_on(list(zip(places, factors, strict=True)), used, ways, reached)
            layer = reached
        return sum(_total(ways) for used, ways in layer.items() if self._is_varied(used))

    def _is_varied(self, used: bytes) -> bool:
        least = self.rules.min_distinct
        return least <= 1 or len(used) - used.count(0) >= least

    def _go_on(
        self, choices: list[tuple[int, int]], used: bytes, ways: Ways, reached: dict[bytes, Ways]
    ) -> None:
        most = self.rules.max_equal
        totals = {last: sum(runs) for last, runs in ways.items()}
        for place, factor in choices:
            if most is not None and used[place] >= most:
                continue
            runs = self._runs(place, ways, totals)
            if any(runs):
                last, key = self._settled(place, used)
                runs = runs if factor == 1 else [factor * number for number in runs]
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
        """(last depth, use of the depths). Where depths are alike, the last one is put first and the others
        in order.
        """
        own = bytes((min(used[place] + 1, self.kept),))
        if not self.alike:
            return place, used[:place] + own + used[place + 1 :]
        return 0, own + bytes(sorted(used[:place] + used[place + 1 :]))


def _add(reached: Ways, last: int, runs: list[int]) -> None:
    there = reached.get(last)
    reached[last] = runs if there is None else [a + b for a, b in zip(there, runs, strict=True)]


def _total(ways: Ways) -> int:
    return sum(map(sum, ways.values()))
