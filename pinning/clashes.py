"""Why a chart has no answer: a small set of its requirements that contradict each other.

A requirement is that a key opens a lock, that a key does not, that a key keeps its bitting, or that the
control key does. Dropping one turns a pair into one that does not matter, and a kept bitting into one that
may be chosen; the format, its kit and the rules stay. A first set comes from the solver, as the requirements
that its contradiction needed. Then requirements are left out one by one for as long as what remains still
contradicts itself by a search of its own; if time allows for all of them, no smaller part of the set clashes.

>>> from pinning.formats import load
>>> alike = {0: (3,) * 6, 1: (3,) * 6}
>>> chart = Chart(load("fixed-6"), ("A", "B"), ("1", "2"), ((0,), (1,)), (frozenset(),) * 2, alike)
>>> clash = find_clash(chart, 5, [Pair("turns", 0, 1)])
>>> [str(requirement) for requirement in clash.requirements][:2], clash.is_minimal
(["key 'A' keeps its bitting", "key 'B' keeps its bitting"], True)
>>> [str(requirement) for requirement in clash.requirements][2:]
["key 'B' opens lock '2'", "key 'A' does not open lock '2'"]
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from random import Random

from pinning.charts import Chart
from pinning.clauses import Row
from pinning.crowding import crowded_lock
from pinning.encoding import Model, Pair
from pinning.searching import CONFLICTS, SOLVER, Clock, Search
from pinning.trials import at_random
from pinning.wording import Said, said

__all__ = ["Clash", "Requirement", "find_clash", "only"]

CORE_SHARE = 0.4  # of the time, for the first set
LONGEST_TEST_S = 5.0


@dataclass(frozen=True, order=True)
class Requirement:
    """`what`: the key "opens" the lock, stays "out" of it, keeps its "bitting"; the "control" key does."""

    what: str
    key: str = ""
    lock: str = ""

    def __str__(self) -> str:
        return str(self.message)

    @property
    def message(self) -> Said:
        key, lock = repr(self.key), repr(self.lock)
        if self.what == "control":
            return said("the control key keeps its bitting")
        if self.what == "bitting":
            return said("key {key} keeps its bitting", key=key)
        if self.what == "opens":
            return said("key {key} opens lock {lock}", key=key, lock=lock)
        return said("key {key} does not open lock {lock}", key=key, lock=lock)


@dataclass(frozen=True)
class Clash:
    """With `is_minimal` the requirements can be met if any one of them is dropped. No requirement at all
    means that the format and the rules alone leave too few keys to make, or no core for one.
    """

    requirements: tuple[Requirement, ...]
    is_minimal: bool


def find_clash(chart: Chart, limit_s: float, ruled_out: Iterable[Pair]) -> Clash:
    """A clash of an impossible chart. `ruled_out` are the pairs by which it was proved to be so."""
    clock = Clock(limit_s)
    if (crowd := crowded_lock(chart)) is not None:
        return _one_by_one(chart, sorted(_crowd(chart, *crowd), key=_order), clock)
    asked = _Asked(chart)
    for pair in sorted(set(ruled_out)):
        asked.forbid(pair, asked.unless(pair))
    found = _core(asked, clock.part(CORE_SHARE))
    if found and not contradicts(chart, found, clock):
        # A key or a control key that fits no core at all clashes with any lock.
        found = [*found, *(each for each in asked.literals if each.what == "opens" and each not in found)]
    groups: list[Callable[[Requirement], str]] = [lambda each: each.lock, lambda each: each.key]
    for group in groups:
        for name in sorted({group(each) for each in found} - {""}):
            fewer = [each for each in found if group(each) != name]
            if len(fewer) < len(found) and contradicts(chart, fewer, clock):
                found = fewer
    return _one_by_one(chart, found, clock)


def _one_by_one(chart: Chart, found: list[Requirement], clock: Clock) -> Clash:
    """Until a round leaves nothing out: where the kit has gaps, what could not go first may go later."""
    while True:
        kept, is_minimal = list(found), True
        for each in found:
            fewer = [other for other in kept if other != each]
            answer = contradicts(chart, fewer, clock)
            kept = fewer if answer else kept
            is_minimal = is_minimal and answer is not None
        if len(kept) == len(found) or not is_minimal:
            return Clash(tuple(sorted(kept, key=_order)), is_minimal)
        found = kept


def _crowd(chart: Chart, lock: int, keys: list[int]) -> set[Requirement]:
    """That these keys open the lock, and, unless a rule says so, what makes each two of them differ."""
    found = {Requirement("opens", chart.keys[key], chart.locks[lock]) for key in keys}
    locks_of = [set(locks) for locks in chart.locks_of()]
    for one, two in [] if chart.rules.distinct else combinations(keys, 2):
        more, less = (one, two) if locks_of[one] - locks_of[two] else (two, one)
        door = chart.locks[min(locks_of[more] - locks_of[less])]
        found |= {Requirement("opens", chart.keys[more], door), Requirement("out", chart.keys[less], door)}
    return found


def _order(each: Requirement) -> tuple[int, str, str]:
    return ("control", "bitting", "opens", "out").index(each.what), each.lock, each.key


def only(chart: Chart, requirements: Iterable[Requirement]) -> Chart:
    """The chart in which only these requirements matter: with their keys, and the locks that are opened.

    Where no two keys may be alike, all keys stay: each takes a bitting away from the others.
    """
    asked = set(requirements)
    named = {each.key for each in asked}
    keys = [name for name in chart.keys if name in named or chart.rules.distinct]
    numbers = {name: number for number, name in enumerate(keys)}
    by_lock: dict[str, tuple[set[int], set[int]]] = {}
    for each in asked:
        if each.lock:
            opens, out = by_lock.setdefault(each.lock, (set(), set()))
            (opens if each.what == "opens" else out).add(numbers[each.key])
    locks = [name for name in chart.locks if name in by_lock and by_lock[name][0]]
    whole = {name: number for number, name in enumerate(chart.keys)}
    return replace(
        chart,
        keys=tuple(keys),
        locks=tuple(locks),
        opens=tuple(tuple(sorted(by_lock[name][0])) for name in locks),
        may=tuple(frozenset(numbers.values()) - by_lock[name][0] - by_lock[name][1] for name in locks),
        fixed={numbers[each.key]: chart.fixed[whole[each.key]] for each in asked if each.what == "bitting"},
        control=chart.control if Requirement("control") in asked else None,
    )


def contradicts(chart: Chart, requirements: Sequence[Requirement], clock: Clock) -> bool | None:
    """Whether these requirements alone cannot be met; None if time ran out over it."""
    part = only(chart, requirements)
    if clock.left <= 0:
        return None
    if crowded_lock(part) is not None:
        return True
    if not part.locks:
        if not part.rules.distinct:
            return False
        # Keys alone clash where there are fewer bittings than keys, whatever takes cores out.
        part = replace(part, format=replace(part.format, control=None), control=None)
    search = Search(Model(part), "clash", Clock(min(clock.left, LONGEST_TEST_S)))
    outcome = search.run(at_random(part, Random(0)))  # noqa: S311
    return None if outcome.status == "out_of_time" else outcome.status == "contradicted"


class _Asked(Model):
    """The clauses of a chart in which each requirement holds only if its literal does."""

    def __init__(self, chart: Chart) -> None:
        self.literals: dict[Requirement, int] = {}
        self.used: dict[tuple[str, str], int] = {}
        self._released = set(chart.fixed)
        super().__init__(replace(chart, fixed={}, control=None))
        for key, cuts in chart.fixed.items():
            self._held(Requirement("bitting", chart.keys[key]), key, cuts)
        if chart.control is not None:
            self._held(Requirement("control"), len(chart.keys), chart.control)

    def _is_bound(self, key: int) -> bool:
        return key not in self._released

    def literal(self, requirement: Requirement) -> int:
        if requirement not in self.literals:
            literal = self.literals[requirement] = self.clauses.variable()
            self.clauses.add(-literal, self._used("", requirement.key))
            if requirement.what == "opens":
                self.clauses.add(-literal, self._used(requirement.lock))
        return self.literals[requirement]

    def unless(self, pair: Pair) -> list[int]:
        """What lets a pair be that was ruled out: that it is not asked, or that nothing is asked of its key
        or of its lock.
        """
        keys, other = self.chart.keys, "" if pair.what == "equal" else self.chart.locks[pair.other]
        if pair.what == "turns" and pair.one < len(keys):
            return [-self._used(other), -self.literal(Requirement("out", keys[pair.one], other))]
        if pair.what == "equal":
            return []
        key = keys[pair.one] if pair.one < len(keys) else None
        return [-self._used(other), *([-self._used("", key)] if key is not None else [])]

    def _used(self, lock: str, key: str = "") -> int:
        """Holds where a requirement opens this lock, or concerns this key."""
        if (lock, key) not in self.used:
            self.used[lock, key] = self.clauses.variable()
        return self.used[lock, key]

    def _held(self, requirement: Requirement, key: int, cuts: tuple[int, ...]) -> None:
        holds = self.literal(requirement)
        for row, cut, column in zip(self.rows[key], cuts, self.columns, strict=True):
            self.clauses.add(-holds, row[column.values.index(cut)])

    def _lock_rows(self, lock: int) -> list[Row]:
        """Rows of the lock's own: a cut is there if a key that shall open it has it, and only if one may."""
        opens = self.chart.opens[lock]
        own_name = self.chart.locks[lock]
        names = [self.literal(Requirement("opens", self.chart.keys[key], own_name)) for key in opens]
        rows = []
        for place, column in enumerate(self.columns):
            row = tuple(self.clauses.variable() for _ in column.values)
            for cut, literal in enumerate(row):
                held = [self.rows[key][place][cut] for key in opens]
                self.clauses.add(-literal, *held)
                for name, own in zip(names, held, strict=True):
                    self.clauses.add(-name, -own, literal)
            self._keep_kit(place, row, len(opens), -self._used(self.chart.locks[lock]))
            rows.append(row)
        return rows


def _core(asked: _Asked, clock: Clock) -> list[Requirement]:
    """The requirements that a contradiction needed; all of them if time runs out."""
    from pysat.solvers import Solver

    by_literal = {literal: requirement for requirement, literal in asked.literals.items()}
    with Solver(name=SOLVER, bootstrap_with=asked.clauses.take()) as solver:
        while clock.left > 0:
            solver.conf_budget(CONFLICTS)
            if solver.solve_limited(assumptions=list(by_literal)) is False:
                core = solver.get_core() or []
                return [by_literal[literal] for literal in core]
    return list(by_literal.values())
