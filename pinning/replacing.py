"""A new key in the place of a lost one: found, or proven impossible, or not found in time.

Two ways to candidates: from a list, in its order (the changes of a progression), or from a SAT solver over
all bittings that may be cut and pinned. Either way a candidate is tried against every key and core by
`Ground.faults`, and what was wrong with it rules out every other candidate with the same fault. So nothing
is found that is not tried, and "impossible" is a contradiction of faults that hold for certain, or a list
that came to its end.

>>> from random import Random
>>> from pinning.bittings import parse_bitting as read
>>> from pinning.formats import load
>>> from pinning.rekeying import Ground, Part
>>> a2 = load("small-a2-6")
>>> part = Part(a2, [[read(a2, "301010")], [read(a2, "301012")]], read(a2, "016565"))
>>> keys = {n: read(a2, n) for n in ("143254", "016565", "301010", "301012")}
>>> known = [(0, "301010", True, False), (1, "301012", True, False)]
>>> ground = Ground(part, keys, lost=["143254"], control="016565", known=known)
>>> found = replace_key(ground, rng=Random(1))
>>> found.status, found.bitting is not None
('found', True)
>>> replace_key(ground, candidates=[read(a2, "143254")]).status
'impossible'
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from random import Random, SystemRandom
from time import monotonic
from typing import Any

from pinning.bittings import Bitting
from pinning.figures import CoreFormat
from pinning.progression import is_within_limit, of_cuts
from pinning.rekeying import Ground, Pattern

__all__ = ["Replacement", "replace_key"]

SOLVER = "glucose42"

Watch = Callable[[int], None]


@dataclass(frozen=True)
class Replacement:
    """`reason` tells why there is none: `kept` (the keys that stay let a lost key into `cores`), `kit` (no
    pins for any cut of a position), `crowded` (every bitting has a fault), `used_up` (so has every candidate
    of the list), `time`. `tried` counts candidates.
    """

    status: str  # found, impossible, unknown
    bitting: Bitting | None = field(default=None, repr=False)
    reason: str = ""
    cores: tuple[int, ...] = ()
    tried: int = 0


def replace_key(
    ground: Ground,
    *,
    candidates: Iterable[Bitting] | None = None,
    limit_s: float = 60,
    watch: Watch | None = None,
    rng: Random | None = None,
) -> Replacement:
    """A key for all cores of the ground's part. `watch` is told how many were tried, and may raise to stop.

    `rng` is for tests: a key that is cut comes from the operating system's source of chance.
    """
    if anyhow := ground.let_in_anyhow():
        return Replacement("impossible", reason="kept", cores=tuple(anyhow))
    if not all(ground.part.domains):
        return Replacement("impossible", reason="kit")
    search = _Search(ground, monotonic() + limit_s, watch)
    if candidates is not None:
        return search.through(candidates)
    return search.everywhere(rng or SystemRandom())


class _Search:
    def __init__(self, ground: Ground, end: float, watch: Watch | None) -> None:
        self.ground, self.end, self.watch = ground, end, watch
        self.format = ground.format
        self.ruled_out: set[Pattern] = set()
        self.tried = 0

    def through(self, candidates: Iterable[Bitting]) -> Replacement:
        """The first of a list that has no fault."""
        for candidate in candidates:
            if not self._is_open(candidate):
                continue
            if self._is_over():
                return Replacement("unknown", reason="time", tried=self.tried)
            if not self._faults(candidate):
                return Replacement("found", candidate, tried=self.tried)
        return Replacement("impossible", reason="used_up", tried=self.tried)

    def everywhere(self, rng: Random) -> Replacement:
        """Any bitting that may be cut."""
        from pysat.solvers import Solver

        clauses = _Clauses(self.format, self.ground.part.domains)
        with Solver(name=SOLVER) as solver:
            for clause in clauses.rules():
                solver.add_clause(clause)
            while not self._is_over():
                solver.set_phases(clauses.any_one(rng))
                if not solver.solve():
                    return Replacement("impossible", reason="crowded", tried=self.tried)
                candidate = clauses.read(solver.get_model())
                faults = self._faults(candidate)
                if not faults:
                    return Replacement("found", candidate, tried=self.tried)
                for pattern in faults:
                    solver.add_clause(clauses.without(pattern))
        return Replacement("unknown", reason="time", tried=self.tried)

    def _faults(self, candidate: Bitting) -> list[Pattern]:
        self.tried += 1
        faults = self.ground.faults(candidate)
        self.ruled_out.update(faults)
        return faults

    def _is_open(self, candidate: Bitting) -> bool:
        """Whether its pins exist and no fault found so far is its own too."""
        values = self.format.depth_values
        ranks = [values.index(cut) for cut in candidate.cuts]
        fits = all(rank in domain for rank, domain in zip(ranks, self.ground.part.domains, strict=True))
        return (
            fits
            and is_within_limit(self.format, candidate.cuts)
            and not any(_has(ranks, pattern) for pattern in self.ruled_out)
        )

    def _is_over(self) -> bool:
        if self.watch is not None:
            self.watch(self.tried)
        return monotonic() > self.end


class _Clauses:
    """One variable for each depth that a position may have."""

    def __init__(self, format: CoreFormat, domains: Sequence[Sequence[int]]) -> None:
        self.format, self.domains = format, domains
        cells = [(place, rank) for place, domain in enumerate(domains) for rank in domain]
        self.names = {cell: number for number, cell in enumerate(cells, 1)}
        self.cells = cells

    def rules(self) -> Iterator[list[int]]:
        """One depth in each position, and adjacent ones no further apart than the format allows."""
        for place, domain in enumerate(self.domains):
            yield [self.names[place, rank] for rank in domain]
            for number, one in enumerate(domain):
                yield from ([-self.names[place, one], -self.names[place, two]] for two in domain[:number])
        for (place, one), (after, two) in self._neighbours():
            if abs(self.format.depth_values[one] - self.format.depth_values[two]) > (self.format.macs or 0):
                yield [-self.names[place, one], -self.names[after, two]]

    def _neighbours(self) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
        if self.format.macs is None:
            return
        for place in range(len(self.domains) - 1):
            for one in self.domains[place]:
                yield from (((place, one), (place + 1, two)) for two in self.domains[place + 1])

    def without(self, pattern: Pattern) -> list[int]:
        """In one position at least another depth than the pattern has."""
        return [
            self.names[place, rank]
            for place, ranks in enumerate(pattern)
            if ranks
            for rank in self.domains[place]
            if rank not in ranks
        ]

    def any_one(self, rng: Random) -> list[int]:
        """Literals of a random bitting, for the solver to begin near it."""
        wished = {(place, rng.choice(list(domain))) for place, domain in enumerate(self.domains)}
        return [name if cell in wished else -name for cell, name in self.names.items()]

    def read(self, model: Any) -> Bitting:
        held = dict(self.cells[name - 1] for name in model if 0 < name <= len(self.cells))
        cuts = tuple(self.format.depth_values[held[place]] for place in range(len(self.domains)))
        return of_cuts(self.format, cuts)


def _has(ranks: Sequence[int], pattern: Pattern) -> bool:
    return all(not places or rank in places for rank, places in zip(ranks, pattern, strict=True))
