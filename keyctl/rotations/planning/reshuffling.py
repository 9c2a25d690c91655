"""From a plan to a better one: a few waves are taken apart and put together again, all others stay.

So small a question the solver settles in a moment, and where one choice of waves brings nothing the next may.
A plan of the same number of visits is taken too, for from there another choice may lead on.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any

from keyctl.rotations.planning.question import Batch, Held, Question, visits_of
from keyctl.rotations.planning.solving import Parts, hint, parts_of, solver_for, visits_by

# Waves that are taken apart together, how often for each measure of effort, and the effort of one time.
FREED = 3
ROUNDS = 25
EFFORT = 0.2


def reshuffled(question: Question, waves: Sequence[Held], bound: int, effort: float) -> list[Held]:
    """As few visits as were found, in ``ROUNDS`` for each measure of effort."""
    best = list(waves)
    for seed, freed in enumerate(_choices(len(best), round(ROUNDS * effort))):
        if visits_of(best) <= bound:
            break
        best = _put_together(_Freed.of(question, best, freed), best, seed)
    return best


def _choices(count: int, rounds: int) -> Iterator[tuple[int, ...]]:
    """Neighbours, since keys bind these, and by turns any."""
    rng = Random(1)  # noqa: S311 (the same plan comes out again)
    size = min(FREED, count)
    for nth in range(rounds):
        first = rng.randrange(count - size + 1)
        yield (
            tuple(sorted(rng.sample(range(count), size))) if nth % 2 else tuple(range(first, first + size))
        )


@dataclass(frozen=True)
class _Freed:
    """The waves taken apart, the doors that were in them, and how far each key may go for what stays."""

    question: Question
    places: tuple[int, ...]
    doors: Mapping[Batch, int]
    within: Mapping[str, range]

    @classmethod
    def of(cls, question: Question, waves: Sequence[Held], places: tuple[int, ...]) -> "_Freed":
        doors, stay = Counter[Batch](), defaultdict[str, set[int]](set)
        for place, wave in enumerate(waves):
            for batch, number in wave.items():
                if number and place in places:
                    doors[batch] += number
                elif number and batch.together:
                    stay[batch.together].add(place)
        names = {batch.together for batch in doors if batch.together}
        within = {name: _reach(question, name, stay[name], len(waves)) for name in sorted(names)}
        return cls(question, places, dict(sorted(doors.items())), within)


def _reach(question: Question, name: str, stay: set[int], count: int) -> range:
    last = min(question.latest.get(name, count), count)
    if not stay or question.widest is None:
        return range(last)
    return range(max(max(stay) - question.widest + 1, 0), min(min(stay) + question.widest, last))


def _put_together(freed: _Freed, waves: list[Held], seed: int) -> list[Held]:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    spares = freed.question.spares
    parts = parts_of(model, freed.doors, freed.places, spares)
    visited = visits_by(model, freed.doors, freed.places, spares, parts)
    _keep_close(model, freed, parts)
    model.add(sum(visited.values()) <= visits_of(waves[place] for place in freed.places))
    model.minimize(sum(visited.values()))
    hint(model, parts, visited, waves)
    # Another seed each time: of plans as good as each other another one comes out.
    solver = solver_for(EFFORT, seed)
    if solver.solve(model) not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return waves
    found = list(waves)
    for place in freed.places:
        taken = {batch: solver.value(parts[batch, place]) for batch in freed.doors}
        found[place] = {batch: number for batch, number in taken.items() if number}
    return found


def _keep_close(model: Any, freed: _Freed, parts: Parts) -> None:
    """Each key within reach of its doors that stay, and of itself where freed waves lie further apart."""
    sharing: dict[str, list[Batch]] = defaultdict(list)
    for batch in freed.doors:
        if batch.together:
            sharing[batch.together].append(batch)
    for name, mine in sharing.items():
        for place in freed.places:
            if place not in freed.within[name]:
                for batch in mine:
                    model.add(parts[batch, place] == 0)
        _keep_within(model, freed, parts, mine)


def _keep_within(model: Any, freed: _Freed, parts: Parts, mine: Sequence[Batch]) -> None:
    widest = freed.question.widest
    if widest is None or freed.places[-1] - freed.places[0] < widest:
        return
    used = {place: model.new_bool_var("") for place in freed.places}
    for place in freed.places:
        for batch in mine:
            model.add(parts[batch, place] <= freed.doors[batch] * used[place])
    for early in freed.places:
        for late in freed.places:
            if late - early >= widest:
                model.add_bool_or(~used[early], ~used[late])
