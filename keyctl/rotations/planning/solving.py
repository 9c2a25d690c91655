"""CP-SAT: how many doors of each batch in each wave, and which buildings are visited in it."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from keyctl.rotations.planning.question import Batch, Held, Question, doors_by_building, groups_of

WORKERS = 1

Doors = Mapping[Batch, int]
Parts = Mapping[tuple[Batch, int], Any]
Visited = Mapping[tuple[str, int], Any]


@dataclass(frozen=True)
class Found:
    """``waves`` are None where the effort brought none; then ``is_impossible`` says that there are none."""

    waves: list[dict[Batch, int]] | None
    bound: int
    is_impossible: bool = False


def solve(question: Question, count: int, bound: int, first: Sequence[Held] | None, effort: float) -> Found:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    doors = {batch: batch.count for batch in question.batches}
    parts = parts_of(model, doors, range(count), question.spares)
    visited = visits_by(model, doors, range(count), question.spares, parts)
    _visit_enough(model, question, visited, count)
    _keep_together(model, question, parts, count)
    _keep_to_latest(model, question, parts, count)
    _break_symmetry(model, question, parts, count)
    model.add(sum(visited.values()) >= bound)
    model.minimize(sum(visited.values()))
    if first is not None:
        hint(model, parts, visited, first if question.is_bound_in_time else _in_order(first))
    solver = solver_for(effort)
    status = solver.solve(model)
    if status in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        waves = [
            {batch: solver.value(parts[batch, wave]) for batch in question.batches} for wave in range(count)
        ]
        return Found(waves, round(solver.best_objective_bound))
    return Found(None, bound, status == cp_model.INFEASIBLE)


def solver_for(effort: float, seed: int = 1) -> Any:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = effort
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = seed
    return solver


def parts_of(model: Any, doors: Doors, places: Sequence[int], spares: Mapping[str, int]) -> Parts:
    """How many doors of each batch in each of these waves: all of them, and no more than there are spares."""
    parts = {
        (batch, place): model.new_int_var(0, min(number, spares[batch.format_id]), "")
        for batch, number in doors.items()
        for place in places
    }
    for batch, number in doors.items():
        model.add(sum(parts[batch, place] for place in places) == number)
    for name, number in spares.items():
        of_format = [batch for batch in doors if batch.format_id == name]
        for place in places:
            model.add(sum(parts[batch, place] for batch in of_format) <= number)
    return parts


def visits_by(
    model: Any, doors: Doors, places: Sequence[int], spares: Mapping[str, int], parts: Parts
) -> Visited:
    """Whether a building is visited in a wave; as tight as the numbers allow, for the sake of the bound."""
    by_place: dict[tuple[str, str], list[Batch]] = defaultdict(list)
    for batch in doors:
        by_place[batch.building, batch.format_id].append(batch)
    buildings = sorted({batch.building for batch in doors})
    visited = {(name, place): model.new_bool_var("") for name in buildings for place in places}
    for (building, name), mine in by_place.items():
        most = min(sum(doors[batch] for batch in mine), spares[name])
        for place in places:
            model.add(sum(parts[batch, place] for batch in mine) <= most * visited[building, place])
    return visited


def _visit_enough(model: Any, question: Question, visited: Visited, count: int) -> None:
    for building, by_format in doors_by_building(question.batches).items():
        for name, number in by_format.items():
            here = [visited[building, wave] for wave in range(count)]
            model.add(sum(here) >= -(-number // question.spares[name]))


def _keep_together(model: Any, question: Question, parts: Parts, count: int) -> None:
    if question.widest is None or question.widest >= count:
        return
    for mine in groups_of(question.batches).values():
        begins = model.new_int_var(0, count - question.widest, "")
        for wave in range(count):
            used = model.new_bool_var("")
            for batch in mine:
                model.add(parts[batch, wave] <= batch.count * used)
            model.add(begins <= wave).only_enforce_if(used)
            model.add(begins >= wave - question.widest + 1).only_enforce_if(used)


def _keep_to_latest(model: Any, question: Question, parts: Parts, count: int) -> None:
    for name, mine in groups_of(question.batches).items():
        for wave in range(question.latest.get(name, count), count):
            for batch in mine:
                model.add(parts[batch, wave] == 0)


def _break_symmetry(model: Any, question: Question, parts: Parts, count: int) -> None:
    """Waves may be numbered as one likes unless time counts; then by how much they hold."""
    if question.is_bound_in_time:
        return
    held = [sum(parts[batch, wave] for batch in question.batches) for wave in range(count)]
    for earlier, later in pairwise(held):
        model.add(earlier >= later)


def _in_order(waves: Sequence[Held]) -> list[Held]:
    return sorted(waves, key=lambda wave: -sum(wave.values()))


def hint(model: Any, parts: Parts, visited: Visited, waves: Sequence[Held]) -> None:
    for (batch, wave), part in parts.items():
        model.add_hint(part, waves[wave].get(batch, 0))
    for (building, wave), flag in visited.items():
        held = waves[wave].items()
        model.add_hint(flag, any(number and batch.building == building for batch, number in held))
