"""A trial answer to a chart, and every pair in which it fails, found with arrays.

>>> from pinning.charts import Chart
>>> from pinning.formats import load
>>> chart = Chart(load("fixed-6"), ("A", "B"), ("1", "2"), ((0,), (1,)), (frozenset(),) * 2)
>>> examiner = Examiner(chart)
>>> number, pairs = examiner.failures(Trial(np.array([[1] * 6, [1] * 6])))
>>> number, [tuple(pair) for pair in pairs]
(2, [('turns', 1, 0), ('turns', 0, 1)])
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from random import Random

import numpy as np
import numpy.typing as npt

from pinning.charts import Chart
from pinning.clauses import FALSE
from pinning.encoding import Model, Pair
from pinning.kits import columns_of

__all__ = ["Examiner", "Reader", "Trial", "at_random", "matching"]

Places = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Bytes = npt.NDArray[np.uint8]

# Bytes of failing pairs that are taken apart: a chart may have hundreds of millions.
MOST_LISTED = 200_000
BITS_IN: Bytes = np.array([byte.bit_count() for byte in range(256)], dtype=np.uint8)


@dataclass(frozen=True, eq=False)
class Trial:
    """Depth places, int, by (key, position); the control key's come last where the format has one."""

    places: Places

    def cuts(self, chart: Chart) -> list[tuple[int, ...]]:
        values = np.array(chart.format.depth_values)
        return [tuple(row) for row in values[self.places].tolist()]


class Reader:
    """Reads a solver's answer: which literal of each row holds."""

    def __init__(self, model: Model) -> None:
        self._literals = np.array(model.rows, dtype=np.int64)
        self._literals[self._literals == FALSE] = 0
        self._alternatives = model.clauses.alternatives

    def read(self, answer: list[int]) -> Trial:
        holds = np.zeros(len(answer) + 2, dtype=np.bool_)
        holds[1:-1] = np.array(answer) > 0
        holds[1] = True
        place = np.abs(self._literals)
        found = np.where(self._literals > 0, holds[place], (self._literals < 0) & ~holds[place])
        return Trial(np.argmax(found, axis=2))

    def wishes(self, trial: Trial) -> list[int]:
        """Literals by which a solver comes to this trial first, where the clauses allow it."""
        chosen = np.zeros(self._literals.shape, dtype=np.bool_)
        np.put_along_axis(chosen, trial.places[:, :, None], True, axis=2)
        literals = np.where(chosen, self._literals, -self._literals)
        wished = {int(literal) for literal in np.unique(literals) if abs(literal) > 1}
        return [*wished, *(name if found & wished else -name for found, name in self._alternatives.items())]


def at_random(chart: Chart, rng: Random) -> Trial:
    """Any cuts, in each position of one series, and those of keys that keep theirs."""
    values = chart.format.depth_values
    rows = []
    series = [
        rng.choice(sorted({cut % chart.format.step for cut in values})) for _ in range(chart.format.positions)
    ]
    for cuts in chart.fixed.values():
        series = [cut % chart.format.step for cut in cuts]
    columns = [[n for n, cut in enumerate(values) if cut % chart.format.step == own] for own in series]
    for key in range(len(chart.keys) + chart.has_control):
        cuts = chart.fixed.get(key, ())
        rows.append([values.index(cut) for cut in cuts] or [rng.choice(column) for column in columns])
    return Trial(np.array(rows, dtype=np.int64))


class Examiner:
    """Looks at trials of one chart; what stays the same from trial to trial is laid out once.

    Eight keys share a byte: per position and set of cuts the keys that have one of them, and a lock's keys
    are the AND of these over the positions.
    """

    def __init__(self, chart: Chart) -> None:
        self.chart = chart
        self.columns = columns_of(chart)
        keys, locks = len(chart.keys), len(chart.locks)
        shall = [(lock, key) for lock, opens in enumerate(chart.opens) for key in opens]
        self._opened = np.array(shall, dtype=np.int64).reshape(-1, 2).T
        out: Flags = np.ones((locks, keys + chart.has_control), dtype=np.bool_)
        out[self._opened[0], self._opened[1]] = False
        for lock, may in enumerate(chart.may):
            out[lock, list(may)] = False
        self._out = np.packbits(out, axis=1)

    def failures(self, trial: Trial) -> tuple[int, list[Pair]]:
        """How many pairs fail, and these pairs; where they are very many, some of them."""
        cuts = [self._cuts(trial, place) for place in range(len(self.columns))]
        turning = self._turning(trial, cuts)
        number, found = _counted(turning), list(self._pairs("turns", turning))
        if self.chart.has_control:
            keys = trial.places[:-1]
            withdrawing = matching(self._at_control(trial, cuts), keys)
            number += _counted(withdrawing)
            found += self._pairs("withdraws", withdrawing)
        if self.chart.rules.distinct:
            alike = list(self._alike(trial))
            number += len(alike)
            found += alike
        return number, found

    def _pairs(self, what: str, failed: Bytes) -> Iterator[Pair]:
        places = np.flatnonzero(failed)
        if len(places) > MOST_LISTED:
            chosen = Random(len(places)).sample(range(len(places)), MOST_LISTED)  # noqa: S311
            places = places[np.sort(chosen)]
        locks, at = np.divmod(places, max(failed.shape[1], 1))
        rows, bits = np.nonzero(np.unpackbits(failed[locks, at][:, None], axis=1))
        for lock, key in zip(locks[rows].tolist(), (at[rows] * 8 + bits).tolist(), strict=True):
            yield Pair(what, key, lock)

    def _cuts(self, trial: Trial, place: int) -> Flags:
        """By (lock, depth place), whether it is an operating cut there."""
        cuts: Flags = np.zeros((len(self.chart.locks), len(self.columns[place].values)), dtype=np.bool_)
        locks, keys = self._opened
        cuts[locks, trial.places[keys, place]] = True
        return cuts

    def _turning(self, trial: Trial, cuts: list[Flags]) -> Bytes:
        """Keys that miss a lock in fewer positions than they must, where they must stay out."""
        clear = [self._with_control(trial, place, cuts[place]) for place in range(len(cuts))]
        if self.chart.rules.min_differences == 1:
            return matching(clear, trial.places) & self._out
        missed = np.zeros((len(self.chart.locks), len(trial.places)), dtype=np.uint8)
        for place, flags in enumerate(clear):
            missed += ~flags[:, trial.places[:, place]]
        return np.packbits(missed < self.chart.rules.min_differences, axis=1) & self._out

    def _with_control(self, trial: Trial, place: int, cuts: Flags) -> Flags:
        """The top of the control pin is a break too, where a cut is deep enough for it."""
        clear = cuts.copy()
        for low, high in self.columns[place].lifted if self.chart.has_control else ():
            if trial.places[-1, place] == low:
                clear[:, high] = True
        return clear

    def _at_control(self, trial: Trial, cuts: list[Flags]) -> Iterator[Flags]:
        for place, column in enumerate(self.columns):
            clear = np.zeros_like(cuts[place]) if column.is_sleeve else cuts[place]
            if column.is_sleeve:
                clear[:, trial.places[-1, place]] = True
                for low, high in column.lifted:
                    clear[:, low] |= cuts[place][:, high]
            yield clear

    def _alike(self, trial: Trial) -> Iterator[Pair]:
        seen: dict[tuple[int, ...], int] = {}
        for key, row in enumerate(trial.places[: len(self.chart.keys)].tolist()):
            other = seen.setdefault(tuple(row), key)
            if other != key:
                yield Pair("equal", other, key)


def _counted(failed: Bytes) -> int:
    return int(BITS_IN[failed].sum(dtype=np.int64))


def matching(clear: Iterable[Flags], keys: Places) -> Bytes:
    """By lock, a bit for each key that has a clear cut in every position."""
    found: Bytes | None = None
    for place, flags in enumerate(clear):
        sets, which = np.unique(flags @ (1 << np.arange(flags.shape[1])), return_inverse=True)
        chosen = (sets[:, None] >> keys[:, place][None, :]) & 1
        row: Bytes = np.packbits(chosen.astype(np.bool_), axis=1)[which]
        found = row if found is None else found & row
    return np.zeros((0, 0), dtype=np.uint8) if found is None else found
