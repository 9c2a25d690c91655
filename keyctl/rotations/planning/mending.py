"""Keys across buildings: doors that came too far apart are taken together where it costs few visits."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from keyctl.rotations.planning.filling import Waves, fillings
from keyctl.rotations.planning.question import (
    Batch,
    Question,
    doors_by_format,
    groups_of,
    is_in_time,
    visits_of,
)

TRIED = 40


def mended(question: Question, count: int) -> Waves | None:
    """The best of some fillings that left room in every wave, mended; None where none could be."""
    if not question.is_bound_in_time:
        return None
    groups = groups_of(question.batches)
    best: Waves | None = None
    for nth, waves in enumerate(fillings(_with_room(question, count), count)):
        if nth == TRIED:
            break
        mending = _Mending(question, waves)
        if mending.mend(groups) and (best is None or visits_of(mending.waves) < visits_of(best)):
            best = mending.waves
    return best if best is not None and is_in_time(question, best) else None


def _with_room(question: Question, count: int) -> Question:
    """With as many spares only as are needed, so that every wave has its share of the room."""
    needed = doors_by_format(question.batches)
    spares = {
        name: min(-(-needed[name] // count) if name in needed else number, number)
        for name, number in question.spares.items()
    }
    return Question(question.batches, spares)


@dataclass
class _Mending:
    question: Question
    waves: Waves

    def mend(self, groups: dict[str, list[Batch]]) -> bool:
        """The largest groups first: they find a place the hardest."""
        ordered = sorted(groups.items(), key=lambda item: (-sum(each.count for each in item[1]), item[0]))
        return all(self._is_close(name, mine) or self._moved(name, mine) for name, mine in ordered)

    def _is_close(self, name: str, mine: Sequence[Batch]) -> bool:
        at = [place for place, wave in enumerate(self.waves) for batch in mine if wave[batch]]
        latest = self.question.latest.get(name, len(self.waves))
        return max(at) - min(at) < self._widest and max(at) < latest

    @property
    def _widest(self) -> int:
        return self.question.widest or len(self.waves)

    def _moved(self, name: str, mine: Sequence[Batch]) -> bool:
        before = [Counter({batch: wave.pop(batch, 0) for batch in mine}) for wave in self.waves]
        found = [window for window in self._windows(name) if self._fits(window, mine)]
        if not found:
            for wave, held in zip(self.waves, before, strict=True):
                wave.update(+held)
            return False
        window = min(found, key=lambda window: (self._new_visits(window, mine), window[0]))
        for batch in mine:
            self._put(window, batch)
        return True

    def _windows(self, name: str) -> Iterator[range]:
        last = min(self.question.latest.get(name, len(self.waves)), len(self.waves))
        for first in range(max(last - self._widest, 0) + 1):
            yield range(first, min(first + self._widest, last))

    def _room(self, wave: int, name: str) -> int:
        held = sum(number for batch, number in self.waves[wave].items() if batch.format_id == name)
        return self.question.spares[name] - held

    def _fits(self, window: range, mine: Sequence[Batch]) -> bool:
        needed = doors_by_format(mine)
        return all(
            sum(self._room(wave, name) for wave in window) >= number for name, number in needed.items()
        )

    def _new_visits(self, window: range, mine: Sequence[Batch]) -> int:
        there = {batch.building for wave in window for batch, number in self.waves[wave].items() if number}
        return len({batch.building for batch in mine} - there)

    def _put(self, window: range, batch: Batch) -> None:
        """Where its building is visited anyhow, else where the most room is."""

        def rank(wave: int) -> tuple[bool, int]:
            here = {each.building for each, number in self.waves[wave].items() if number}
            return (batch.building not in here, -self._room(wave, batch.format_id))

        left = batch.count
        for wave in sorted(window, key=rank):
            number = min(left, self._room(wave, batch.format_id))
            if number:
                self.waves[wave][batch] += number
                left -= number
