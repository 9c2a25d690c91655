"""Quick plans without a solver: buildings whole into waves, or in a row that is cut where a wave is full."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from random import Random

from keyctl.rotations.planning.question import (
    Batch,
    Question,
    doors_by_format,
    is_in_time,
    visits_of,
)

# Orders of the buildings that are tried.
ROWS = 60

Waves = list[Counter[Batch]]
Buildings = list[list[Batch]]
Groups = Sequence[Sequence[str]]


@dataclass
class _Filling:
    """The waves as they fill up."""

    question: Question
    count: int
    waves: Waves = field(default_factory=list)
    room: list[dict[str, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.waves = [Counter() for _ in range(self.count)]
        self.room = [dict(self.question.spares) for _ in range(self.count)]

    def takes(self, wave: int, batches: Sequence[Batch]) -> bool:
        needed = doors_by_format(batches)
        return all(self.room[wave][name] >= count for name, count in needed.items())

    def put(self, wave: int, batch: Batch, number: int) -> None:
        if number:
            self.waves[wave][batch] += number
            self.room[wave][batch.format_id] -= number

    def pour(self, batch: Batch, left: int, first: int = 0) -> int:
        """Into the waves from ``first`` on, as they have room; what is left over."""
        for wave in range(first, self.count):
            number = min(left, self.room[wave][batch.format_id])
            self.put(wave, batch, number)
            left -= number
        return left

    def left_in(self, wave: int) -> int:
        return sum(self.room[wave].values())


def filled(question: Question, count: int, bound: int, grouped: Sequence[Groups] = ()) -> Waves | None:
    """The best of the fillings; None where in all of them doors that belong together came too far apart.

    ``grouped`` are buildings in groups that should close waves among themselves; then only these are tried.
    """
    best: Waves | None = None
    tried = (_in_groups(question, count, groups) for groups in grouped)
    for waves in tried if grouped else fillings(question, count):
        if not is_in_time(question, waves):
            continue
        if best is None or visits_of(waves) < visits_of(best):
            best = waves
        if visits_of(best) == bound:
            break
    return best


def fillings(question: Question, count: int) -> Iterator[Waves]:
    buildings = _by_size(question.batches)
    yield _whole(question, count, buildings)
    rng = Random(1)  # noqa: S311 (the same plan comes out again)
    for _ in range(ROWS):
        yield _in_a_row(question, count, _urgent_first(question, _neighbours(buildings)))
        yield _whole(question, count, buildings)
        rng.shuffle(buildings)


def _whole(question: Question, count: int, buildings: Buildings) -> Waves:
    """Each building whole into the fullest wave that takes it; what fits nowhere is spread."""
    filling = _Filling(question, count)
    for batches in buildings:
        _place(filling, batches)
    return filling.waves


def _in_a_row(question: Question, count: int, buildings: Iterable[Sequence[Batch]]) -> Waves:
    """One building after the other; a building is cut where the wave is full."""
    filling = _Filling(question, count)
    for batches in buildings:
        for batch in batches:
            left = filling.pour(batch, batch.count, _first_for(filling, batch))
            filling.pour(batch, left)
    return filling.waves


def _in_groups(question: Question, count: int, groups: Groups) -> Waves:
    """Each group in a row that begins with a wave of its own."""
    filling = _Filling(question, count)
    by_name = {batches[0].building: batches for batches in _by_size(question.batches)}
    for group in groups:
        first = next((wave for wave in range(count) if not filling.waves[wave]), 0)
        for batch in (batch for name in group for batch in by_name[name]):
            filling.pour(batch, filling.pour(batch, batch.count, first))
    return filling.waves


def _first_for(filling: _Filling, batch: Batch) -> int:
    """Doors of one key that all must be in one wave are not cut where a wave takes them."""
    if batch.together and filling.question.widest == 1:
        return next((wave for wave in range(filling.count) if filling.takes(wave, [batch])), 0)
    return 0


def _place(filling: _Filling, batches: Sequence[Batch]) -> None:
    whole = [wave for wave in range(filling.count) if filling.takes(wave, batches)]
    if whole:
        wave = min(whole, key=lambda wave: (filling.left_in(wave), wave))
        for batch in batches:
            filling.put(wave, batch, batch.count)
        return
    left = {batch: batch.count for batch in batches}
    # The emptiest waves first: then the building is in few of them.
    for wave in sorted(range(filling.count), key=lambda wave: (-filling.left_in(wave), wave)):
        for batch in batches:
            number = min(left[batch], filling.room[wave][batch.format_id])
            filling.put(wave, batch, number)
            left[batch] -= number


def _neighbours(buildings: Buildings) -> Buildings:
    """The same order, but buildings that share a key follow each other."""
    sharing: dict[str, list[int]] = defaultdict(list)
    for place, batches in enumerate(buildings):
        for name in {batch.together for batch in batches if batch.together}:
            sharing[name].append(place)
    order: dict[int, None] = {}
    for place in range(len(buildings)):
        waiting = [place]
        while waiting:
            here = waiting.pop(0)
            if here not in order:
                order[here] = None
                names = dict.fromkeys(batch.together for batch in buildings[here] if batch.together)
                waiting += [other for name in names for other in sharing[name] if other not in order]
    return [buildings[place] for place in order]


def _urgent_first(question: Question, buildings: Buildings) -> Buildings:
    if not question.latest:
        return buildings
    never = max(question.latest.values()) + 1

    def last(batches: Sequence[Batch]) -> int:
        return min(question.latest.get(batch.together, never) for batch in batches)

    return sorted((sorted(each, key=lambda batch: last([batch])) for each in buildings), key=last)


def _by_size(batches: Iterable[Batch]) -> Buildings:
    """The batches of each building, those that belong together side by side; the largest building first."""
    buildings: dict[str, list[Batch]] = defaultdict(list)
    for batch in sorted(batches, key=lambda batch: (batch.together, batch)):
        buildings[batch.building].append(batch)
    return sorted(buildings.values(), key=lambda each: (-sum(batch.count for batch in each), each[0]))
