"""Where waves are full to the last core, buildings must be cut between them: the fewest cuts there can be.

One format, and buildings with n doors each. What a building has over whole waves is an item, between one
door and a whole wave of them; V waves are left for the items. Items and the waves they lie in hang together
in groups. A group in v waves has at least v - 1 cuts, and v - 1 suffice: its items in a row. So the cuts are
V less the groups, where each group wastes the room that its waves have over. The sets of few items that waste
no more than there is to waste are listed; the most of them that fit beside each other bound the groups from
above, for what is not in a listed set is in larger ones.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb
from typing import Any

MOST_TRIED = 50_000
MOST_SETS = 6_000
LARGEST_SET = 6
EFFORT = 1.0


@dataclass(frozen=True)
class Items:
    """The names in order, and how many doors each has over whole waves."""

    sizes: dict[str, int]
    spares: int
    waves: int

    @classmethod
    def of(cls, doors: dict[str, int], spares: int, waves: int) -> "Items":
        sizes = {name: (count - 1) % spares + 1 for name, count in sorted(doors.items())}
        whole = sum((count - 1) // spares for count in doors.values())
        return cls(sizes, spares, waves - whole)

    @property
    def total(self) -> int:
        return sum(self.sizes.values())

    @property
    def slack(self) -> int:
        """The cores that may lie idle in all waves together."""
        return self.waves * self.spares - self.total

    def waste(self, names: Sequence[str]) -> int:
        return -sum(self.sizes[name] for name in names) % self.spares


def fewest_cuts(items: Items) -> int:
    if len(items.sizes) <= items.waves:
        return 0
    sets, largest = _listed(items)
    model, chosen = _packing(items, sets)
    left = len(items.sizes) - sum(len(each) * chosen[each] for each in sets)
    larger = model.new_int_var(0, len(items.sizes), "")
    model.add((largest + 1) * larger <= left)
    return max(-(-(items.total - _most(model, items, chosen, larger)[0]) // items.spares), 0)


def good_groups(items: Items) -> list[list[str]]:
    """Groups that close waves among themselves as far as listed sets do; the rest is one."""
    if len(items.sizes) <= items.waves:
        return [[name] for name in items.sizes]
    sets, _ = _listed(items)
    model, chosen = _packing(items, sets)
    taken = _most(model, items, chosen, 0)[1]
    named = {name for each in taken for name in each}
    rest = [name for name in items.sizes if name not in named]
    return [*map(list, taken), *([rest] if rest else [])]


def _listed(items: Items) -> tuple[list[tuple[str, ...]], int]:
    """All sets of up to so many items that waste no more than there is, and so many."""
    found: list[tuple[str, ...]] = []
    for number in range(1, LARGEST_SET + 1):
        if comb(len(items.sizes), number - 1) * (items.slack + 1) > MOST_TRIED:
            return found, number - 1
        more = list(_sets_of(items, number))
        if len(found) + len(more) > MOST_SETS:
            return found, number - 1
        found += more
    return found, LARGEST_SET


def _sets_of(items: Items, number: int) -> Iterator[tuple[str, ...]]:
    """The last item is looked up by what the others leave over."""
    by_size: dict[int, list[str]] = {}
    for name, size in items.sizes.items():
        by_size.setdefault(size % items.spares, []).append(name)
    for first in combinations(items.sizes, number - 1):
        over = items.waste(first)
        for wasted in range(min(items.slack, items.spares - 1) + 1):
            for last in by_size.get((over - wasted) % items.spares, ()):
                if not first or last > first[-1]:
                    yield (*first, last)


def _packing(items: Items, sets: Sequence[tuple[str, ...]]) -> tuple[Any, dict[tuple[str, ...], Any]]:
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    chosen = {each: model.new_bool_var("") for each in sets}
    having: dict[str, list[Any]] = {name: [] for name in items.sizes}
    for each, flag in chosen.items():
        for name in each:
            having[name].append(flag)
    for flags in having.values():
        model.add_at_most_one(flags)
    model.add(sum(items.waste(each) * flag for each, flag in chosen.items()) <= items.slack)
    return model, chosen


def _most(
    model: Any, items: Items, chosen: dict[tuple[str, ...], Any], larger: Any
) -> tuple[int, list[tuple[str, ...]]]:
    """The most room that is saved (a wave a group, less what it wastes), and the sets of a good try."""
    from ortools.sat.python import cp_model

    saved = sum((items.spares - items.waste(each)) * flag for each, flag in chosen.items())
    model.maximize(saved + items.spares * larger)
    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = EFFORT
    solver.parameters.num_workers = 1
    if solver.solve(model) not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return round(solver.best_objective_bound), []
    return round(solver.best_objective_bound), [each for each, flag in chosen.items() if solver.value(flag)]
