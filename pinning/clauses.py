"""Clauses over true-or-false variables, as a SAT solver takes them, with what is known folded away.

A literal is a variable's number, or its negative for "not". Variable 1 is true, so that TRUE and FALSE can
stand among literals; they never reach the solver.

>>> clauses = Clauses()
>>> a, b = clauses.variable(), clauses.variable()
>>> clauses.add(a, FALSE, b)
>>> clauses.add(-a, TRUE)
>>> clauses.either([a, FALSE]) == a, clauses.either([a, b, TRUE]) == TRUE
(True, True)
>>> clauses.take()
[[1], [2, 3]]
"""

from collections.abc import Iterable, Sequence
from itertools import combinations

__all__ = ["FALSE", "TRUE", "Clauses", "Row"]

TRUE, FALSE = 1, -1

Row = tuple[int, ...]  # of one position: a literal for each depth


class Clauses:
    def __init__(self) -> None:
        self.variables = 1
        self._new: list[list[int]] = [[TRUE]]
        # By literals, the one that holds exactly if one of them does.
        self.alternatives: dict[frozenset[int], int] = {}

    def variable(self) -> int:
        self.variables += 1
        return self.variables

    def add(self, *literals: int) -> None:
        """At least one of the literals holds."""
        if TRUE not in literals:
            self._new.append([literal for literal in literals if literal != FALSE])

    def extend(self, clauses: Iterable[Sequence[int]]) -> None:
        for clause in clauses:
            self.add(*clause)

    def take(self) -> list[list[int]]:
        """The clauses added since the last time."""
        new, self._new = self._new, []
        return new

    def one_of(self, size: int, allowed: Sequence[int]) -> Row:
        """A row of literals of which exactly one holds, and that one is at an allowed place."""
        if len(allowed) == 1:
            chosen = [TRUE]
        elif len(allowed) == 2:
            variable = self.variable()
            chosen = [variable, -variable]
        else:
            chosen = [self.variable() for _ in allowed]
            self._new.append(chosen)
            self._new += [[-one, -other] for one, other in combinations(chosen, 2)]
        row = [FALSE] * size
        for place, literal in zip(allowed, chosen, strict=True):
            row[place] = literal
        return tuple(row)

    def either(self, literals: Iterable[int]) -> int:
        """A literal that holds exactly if one of these does."""
        found = frozenset(literals) - {FALSE}
        if TRUE in found:
            return TRUE
        if len(found) < 2:
            return next(iter(found), FALSE)
        if found not in self.alternatives:
            self.alternatives[found] = self._named(found)
        return self.alternatives[found]

    def _named(self, found: frozenset[int]) -> int:
        if any(-literal in found for literal in found):
            return TRUE
        name = self.variable()
        self._new.append([-name, *found])
        self._new += [[name, -literal] for literal in found]
        return name
