"""Keys across buildings: waves are put into another order, and what is still too far apart is taken together.

A filling that looks at buildings alone has few visits, and its waves may come in any order. So first the
order is sought in which the keys are the closest; then the doors of each key that does not fit yet are moved
where that costs the fewest visits.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, islice

from keyctl.rotations.planning.filling import Waves, fillings
from keyctl.rotations.planning.question import (
    Batch,
    Question,
    doors_by_format,
    groups_of,
    is_in_time,
    visits_of,
)

TRIED = 30
ROUNDS = 30

Groups = Mapping[str, Sequence[Batch]]


def mended(question: Question, count: int) -> Waves | None:
    """The best of some fillings, put in order and mended; None where none could be."""
    if not question.is_bound_in_time:
        return None
    groups, best = groups_of(question.batches), None
    for loose in (Question(question.batches, question.spares), _with_room(question, count)):
        for waves in islice(fillings(loose, count), TRIED):
            found = _mended(question, groups, waves)
            if found is not None and (best is None or visits_of(found) < visits_of(best)):
                best = found
    return best


def _mended(question: Question, groups: Groups, waves: Waves) -> Waves | None:
    mending = _Mending(question, in_order(question, groups, waves))
    is_mended = mending.mend(groups)
    return mending.waves if is_mended and is_in_time(question, mending.waves) else None


def _with_room(question: Question, count: int) -> Question:
    """With as many spares only as are needed, so that every wave has its share of the room."""
    needed = doors_by_format(question.batches)
    spares = {
        name: min(-(-needed[name] // count) if name in needed else number, number)
        for name, number in question.spares.items()
    }
    return Question(question.batches, spares)


def in_order(question: Question, groups: Groups, waves: Waves) -> Waves:
    """Two waves change places as long as the keys come closer by it."""
    held = [
        [place for place, wave in enumerate(waves) if any(wave[batch] for batch in mine)]
        for mine in groups.values()
    ]
    latest = [question.latest.get(name, len(waves)) for name in groups]
    widest = question.widest or len(waves)

    def too_far(at: Sequence[int]) -> int:
        """By how many waves the keys miss, all together; ``at`` says where each wave stands."""
        missed = 0
        for places, last in zip(held, latest, strict=True):
            stand = [at[place] for place in places]
            missed += max(max(stand) - min(stand) + 1 - widest, 0) + max(max(stand) + 1 - last, 0)
        return missed

    at = list(range(len(waves)))
    best = too_far(at)
    for _ in range(ROUNDS):
        before = best
        for one, other in combinations(range(len(waves)), 2) if best else ():
            at[one], at[other] = at[other], at[one]
            now = too_far(at)
            if now < best:
                best = now
            else:
                at[one], at[other] = at[other], at[one]
        if best == before:
            break
    order = sorted(range(len(waves)), key=lambda place: at[place])
    return [waves[place] for place in order]


class _Mending:
    """The waves with what room they have and how many doors of each building are in them."""

    def __init__(self, question: Question, waves: Waves) -> None:
        self.question, self.waves = question, waves
        self.widest = question.widest or len(waves)
        self.room = [Counter(question.spares) for _ in waves]
        self.there: list[dict[str, int]] = [defaultdict(int) for _ in waves]
        for place, wave in enumerate(waves):
            for batch, number in wave.items():
                self._count(place, batch, number)

    def mend(self, groups: Groups) -> bool:
        """The largest groups first: they find a place the hardest."""
        ordered = sorted(groups.items(), key=lambda item: (-sum(each.count for each in item[1]), item[0]))
        return all(self._is_close(name, mine) or self._moved(name, mine) for name, mine in ordered)

    def _is_close(self, name: str, mine: Sequence[Batch]) -> bool:
        at = [place for place, wave in enumerate(self.waves) if any(wave[batch] for batch in mine)]
        latest = self.question.latest.get(name, len(self.waves))
        return max(at) - min(at) < self.widest and max(at) < latest

    def _moved(self, name: str, mine: Sequence[Batch]) -> bool:
        """Only what lies outside the window moves."""
        found = [
            (cost, window) for window in self._windows(name) if (cost := self._cost(window, mine)) is not None
        ]
        if not found:
            return False
        _, window = min(found, key=lambda item: (item[0], item[1][0]))
        for batch in mine:
            left = 0
            for place in range(len(self.waves)):
                if place not in window and (number := self.waves[place].pop(batch, 0)):
                    self._count(place, batch, -number)
                    left += number
            self._put(window, batch, left)
        return True

    def _windows(self, name: str) -> Iterator[range]:
        last = min(self.question.latest.get(name, len(self.waves)), len(self.waves))
        for first in range(max(last - self.widest, 0) + 1):
            yield range(first, min(first + self.widest, last))

    def _cost(self, window: range, mine: Sequence[Batch]) -> int | None:
        """The visits that come on top, less those that are saved; None where there is no room."""
        needed, cost = Counter[str](), 0
        for batch in mine:
            held = {place: wave[batch] for place, wave in enumerate(self.waves) if wave[batch]}
            outside = [place for place in held if place not in window]
            moved = sum(held[place] for place in outside)
            if not moved:
                continue
            needed[batch.format_id] += moved
            cost += not any(self.there[place][batch.building] for place in window)
            cost -= sum(self.there[place][batch.building] == held[place] for place in outside)
        return cost if self._fits(window, needed) else None

    def _fits(self, window: range, needed: Mapping[str, int]) -> bool:
        return all(sum(self.room[place][name] for place in window) >= count for name, count in needed.items())

    def _put(self, window: range, batch: Batch, left: int) -> None:
        """Where its building is visited anyhow, else where the most room is."""

        def rank(place: int) -> tuple[bool, int]:
            return (not self.there[place][batch.building], -self.room[place][batch.format_id])

        for place in sorted(window, key=rank):
            if number := min(left, self.room[place][batch.format_id]):
                self.waves[place][batch] += number
                self._count(place, batch, number)
                left -= number

    def _count(self, place: int, batch: Batch, number: int) -> None:
        self.room[place][batch.format_id] -= number
        self.there[place][batch.building] += number
