"""CP-SAT: how many doors of each batch in each wave, and which buildings are visited in it."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from keyctl.rotations.planning.question import Batch, Held, Question, groups_of

WORKERS = 1

Parts = Mapping[tuple[Batch, int], Any]


@dataclass(frozen=True)
class Found:
    """``waves`` are None where the effort brought none; then ``is_impossible`` says that there are none."""

    waves: list[dict[Batch, int]] | None
    bound: int
    is_impossible: bool = False


def solve(question: Question, count: int, bound: int, first: Sequence[Held] | None, effort: float) -> Found:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    parts = _parts(model, question, count)
    visited = _visited(model, question, parts, count)
    _keep_together(model, question, parts, count)
    _keep_to_latest(model, question, parts, count)
    _break_symmetry(model, question, parts, count)
    model.add(sum(visited.values()) >= bound)
    model.minimize(sum(visited.values()))
    if first is not None:
        _hint(model, parts, visited, first if question.is_bound_in_time else _in_order(first))
    solver = _solver(cp_model, effort)
    status = solver.solve(model)
    if status in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        waves = [
            {batch: solver.value(parts[batch, wave]) for batch in question.batches} for wave in range(count)
        ]
        return Found(waves, round(solver.best_objective_bound))
    return Found(None, bound, status == cp_model.INFEASIBLE)


def _solver(cp_model: Any, effort: float) -> Any:
    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = effort
    solver.parameters.num_workers = WORKERS
    solver.parameters.random_seed = 1
    return solver


def _parts(model: Any, question: Question, count: int) -> Parts:
    parts = {
        (batch, wave): model.new_int_var(0, min(batch.count, question.spares[batch.format_id]), "")
        for batch in question.batches
        for wave in range(count)
    }
    for batch in question.batches:
        model.add(sum(parts[batch, wave] for wave in range(count)) == batch.count)
    for name, spares in question.spares.items():
        of_format = [batch for batch in question.batches if batch.format_id == name]
        for wave in range(count):
            model.add(sum(parts[batch, wave] for batch in of_format) <= spares)
    return parts


def _visited(model: Any, question: Question, parts: Parts, count: int) -> dict[tuple[str, int], Any]:
    """Whether a building is visited in a wave; as tight as the numbers allow, for the sake of the bound."""
    doors: Counter[tuple[str, str]] = Counter()
    for batch in question.batches:
        doors[batch.building, batch.format_id] += batch.count
    buildings = sorted({batch.building for batch in question.batches})
    visited = {(name, wave): model.new_bool_var("") for name in buildings for wave in range(count)}
    for (building, name), number in doors.items():
        spares = question.spares[name]
        mine = [each for each in question.batches if (each.building, each.format_id) == (building, name)]
        for wave in range(count):
            here = sum(parts[batch, wave] for batch in mine)
            model.add(here <= min(number, spares) * visited[building, wave])
        model.add(sum(visited[building, wave] for wave in range(count)) >= -(-number // spares))
    return visited


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


def _hint(model: Any, parts: Parts, visited: Mapping[tuple[str, int], Any], waves: Sequence[Held]) -> None:
    for (batch, wave), part in parts.items():
        model.add_hint(part, waves[wave].get(batch, 0))
    for (building, wave), flag in visited.items():
        held = waves[wave].items()
        model.add_hint(flag, any(number and batch.building == building for batch, number in held))
