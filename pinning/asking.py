"""One question about keys for doors put to OR-Tools' CP-SAT: extra doors first and keys second made least.

>>> from pinning.covers import reduce_cover
>>> cover = reduce_cover({"M": "abxy", "A": "a", "B": "bx"}, "ab")
>>> answer = Asked(cover, room=2, scale=10).solve(limit_s=10.0, effort=10.0)
>>> answer.chosen, answer.cost, answer.is_closed
((1, 2), 12, True)
"""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from pinning.covers import Cover, bits_of

__all__ = ["SETTINGS", "Answer", "Asked"]

# One worker and a fixed seed give the same answer every time; the linear relaxation does most of the proof,
# and measured, cuts on top of it cost more than they bring.
SETTINGS = {
    "num_workers": 1,
    "random_seed": 1,
    "linearization_level": 2,
    "cut_level": 0,
    "cp_model_probing_level": 1,
    "symmetry_level": 0,
}


@dataclass(frozen=True, slots=True)
class Answer:
    """`is_closed`: nothing better is left, be it that the set is the best or that there is none.
    `effort`: what it took, in the solver's own measure."""

    chosen: tuple[int, ...] | None
    cost: int
    is_closed: bool
    effort: float


class Asked:
    """At most `room` keys; an extra door costs `scale`, a key 1."""

    def __init__(self, cover: Cover[Any], room: int, scale: int) -> None:
        from ortools.sat.python import cp_model

        self.cover, self.cp = cover, cp_model
        self.model = cp_model.CpModel()
        self.used = [self.model.new_bool_var(f"k{key}") for key in range(len(cover.keys))]
        self.added = [self.model.new_bool_var(f"g{group}") for group in range(len(cover.weights))]
        for keys in cover.openers:
            self._open_by_one(keys)
        extra = sum(weight * group for weight, group in zip(cover.weights, self.added, strict=True))
        self.cost = scale * extra + sum(self.used)
        self.model.add(sum(self.used) <= room)
        self.model.minimize(self.cost)

    def below(self, cost: int) -> None:
        self.model.add(self.cost <= cost - 1)

    def hint(self, keys: Collection[int]) -> None:
        """By the names that the keys have in the cover."""
        for key, used in zip(self.cover.keys, self.used, strict=True):
            self.model.add_hint(used, key in keys)

    def solve(self, limit_s: float, effort: float) -> Answer:
        solver = self.cp.CpSolver()
        limits = {"max_time_in_seconds": max(limit_s, 0.0), "max_deterministic_time": effort}
        for name, value in (SETTINGS | limits).items():
            setattr(solver.parameters, name, value)
        status = solver.solve(self.model)
        took = solver.response_proto.deterministic_time
        if status not in (self.cp.OPTIMAL, self.cp.FEASIBLE):
            return Answer(None, 0, status == self.cp.INFEASIBLE, took)
        chosen = tuple(key for key, used in enumerate(self.used) if solver.boolean_value(used))
        return Answer(chosen, round(solver.objective_value), status == self.cp.OPTIMAL, took)

    def _open_by_one(self, keys: tuple[int, ...]) -> None:
        """One key is told off for the needed door, and brings its groups with it: of all keys of the door
        together a group asks once, which bounds far better than asking key by key."""
        chosen = {key: self.model.new_bool_var(f"d{keys[0]}k{key}") for key in keys}
        self.model.add_exactly_one(chosen.values())
        bringing: dict[int, list[Any]] = defaultdict(list)
        for key, is_chosen in chosen.items():
            self.model.add_implication(is_chosen, self.used[key])
            for group in bits_of(self.cover.adds[key]):
                bringing[group].append(is_chosen)
        for group, keyed in bringing.items():
            self.model.add_at_most_one([*keyed, self.added[group].negated()])
