"""A lock chart as clauses for a SAT solver.

A row of literals says which depth a key has in a position, exactly one. A lock's row in a position is the OR
of its keys' rows: the operating cuts there, no more and no fewer. The kit's sizes are clauses on that row
alone, so rows that several locks share are written once. A forbidden pair needs a position that the key
misses; its clause is added only when asked for, so that a solver can be run with few of them first.

All clauses follow from the chart: a chart whose clauses contradict each other has no solution. A `Frame`
narrows the keys to fewer cuts; then a contradiction says nothing of the chart.

>>> from pinning.charts import Chart
>>> from pinning.formats import load
>>> chart = Chart(load("fixed-6"), ("A", "B"), ("1", "2"), ((0,), (1,)), (frozenset(),) * 2)
>>> model = Model(chart)
>>> model.forbid(Pair("turns", 1, 0))
>>> len(model.rows), len(model.rows[0]), len(model.rows[0][0])
(2, 6, 10)
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations, pairwise
from typing import Any, NamedTuple

from pinning.charts import Chart
from pinning.clauses import FALSE, TRUE, Clauses, Row
from pinning.kits import Column, columns_of

__all__ = ["Frame", "Model", "Pair"]


class Pair(NamedTuple):
    """What must not be: key `one` "turns" lock `other`, "withdraws" it, or is "equal" to key `other`."""

    what: str
    one: int
    other: int


@dataclass
class Frame:
    """Narrower choices: `allowed` holds depth places by (key, position), both from 0; `same` names the key
    whose cut a key shares in that position.
    """

    allowed: dict[tuple[int, int], tuple[int, ...]] = field(default_factory=dict)
    same: dict[tuple[int, int], int] = field(default_factory=dict)
    control: tuple[int, ...] | None = None


class Model:
    """The clauses of a chart. Keys are its keys in order, then the control key where the format has one."""

    def __init__(self, chart: Chart, frame: Frame | None = None) -> None:
        self.chart = chart
        self.clauses = Clauses()
        self.columns: Sequence[Column] = columns_of(chart)
        self._frame = frame or Frame()
        self._missed: dict[tuple[int, Row, Row, str], int] = {}
        self._shared: dict[tuple[int, frozenset[Row]], Row] = {}
        self._checked: set[tuple[int, Row, int]] = set()
        self._apart: set[tuple[Row, Row]] = set()
        self.rows = self._key_rows()
        self.control = self.rows[-1] if chart.has_control else None
        for key in range(len(chart.keys)):
            if self._is_bound(key):
                self._keep_rules(self.rows[key])
        self.locks = [self._lock_rows(lock) for lock in range(len(chart.locks))]

    def _is_bound(self, key: int) -> bool:
        """Whether the shop's rules bind a key: those in use already are as they are."""
        return key not in self.chart.fixed

    def _key_rows(self) -> list[list[Row]]:
        rows: list[list[Row]] = [[] for _ in self.chart.keys]
        held: dict[tuple[int, int], Row] = {}
        for key in range(len(self.chart.keys)):
            rows[key] = [self._row(key, place, held) for place in range(len(self.columns))]
        if self.chart.has_control:
            rows.append(self._control_rows())
        return rows

    def _row(self, key: int, place: int, held: dict[tuple[int, int], Row]) -> Row:
        """The row of a key, made once for all that share it. Only the first holder's choices count."""
        holder = self._frame.same.get((key, place), key)
        if key in self.chart.fixed or (holder, place) not in held:
            row = self._choice(key if key in self.chart.fixed else holder, place)
            if key in self.chart.fixed:
                return row
            held[holder, place] = row
        return held[holder, place]

    def _choice(self, key: int, place: int) -> Row:
        column = self.columns[place]
        if key in self.chart.fixed:
            allowed: Sequence[int] = (column.values.index(self.chart.fixed[key][place]),)
        else:
            allowed = self._frame.allowed.get((key, place), column.places)
        return self.clauses.one_of(len(column.values), allowed)

    def _control_rows(self) -> list[Row]:
        cuts = self.chart.control or self._frame.control
        rows = []
        for place, column in enumerate(self.columns):
            # Where there is no lock, no core has to take the control key.
            fitting = column.control_places if self.chart.locks else range(len(column.values))
            allowed = fitting if cuts is None else (column.values.index(cuts[place]),)
            rows.append(self.clauses.one_of(len(column.values), allowed))
            if not set(allowed) <= set(fitting):
                self.clauses.add()
        self._keep_limit(rows, self.chart.format.macs)
        return rows

    def _keep_limit(self, rows: Sequence[Row], macs: int | None) -> None:
        """No two adjacent cuts are too far apart."""
        if macs is None:
            return
        values = self.columns[0].values
        far = [
            (a, b) for a, one in enumerate(values) for b, two in enumerate(values) if abs(one - two) > macs
        ]
        for one, two in pairwise(rows):
            if (one, two) in self._apart:
                continue
            self._apart.add((one, two))
            self.clauses.extend((-one[a], -two[b]) for a, b in far if one[a] != FALSE and two[b] != FALSE)

    def _keep_rules(self, rows: Sequence[Row]) -> None:
        rules = self.chart.rules.keys
        self._keep_limit(rows, self.chart.macs)
        by_depth = list(zip(*rows, strict=True))
        for literals in by_depth:
            self._at_most(literals, rules.max_equal)
        if rules.max_run is not None:
            for literals in by_depth:
                for start in range(len(literals) - rules.max_run):
                    self.clauses.add(*(-literal for literal in literals[start : start + rules.max_run + 1]))
        if rules.min_distinct > 1:
            used = [-self.clauses.either(literals) for literals in by_depth]
            self._at_most(used, len(used) - rules.min_distinct)
        if rules.min_span > 0:
            self._keep_span(by_depth, rules.min_span)

    def _keep_span(self, by_depth: Sequence[Sequence[int]], span: int) -> None:
        """Whatever the shallowest cut could be, some cut lies outside the span that begins there."""
        values = self.columns[0].values
        for low in values:
            outside = [place for place, value in enumerate(values) if not low <= value < low + span]
            self.clauses.add(*(literal for place in outside for literal in by_depth[place]))

    def _at_most(self, literals: Sequence[int], most: int | None) -> None:
        if most is None or most >= len(literals):
            return
        if most < 0:
            self.clauses.add()
            return
        if len(literals) <= 9:
            self.clauses.extend(
                [-literal for literal in chosen] for chosen in combinations(literals, most + 1)
            )
            return
        from pysat.card import CardEnc, EncType

        counted: Any = CardEnc.atmost(
            list(literals), bound=most, top_id=self.clauses.variables, encoding=EncType.seqcounter
        )
        self.clauses.variables = max(self.clauses.variables, counted.nv)
        self.clauses.extend(counted.clauses)

    def _lock_rows(self, lock: int) -> list[Row]:
        return [self._lock_row(place, self.chart.opens[lock]) for place in range(len(self.columns))]

    def _lock_row(self, place: int, opens: Sequence[int]) -> Row:
        rows = frozenset(self.rows[key][place] for key in opens)
        if (place, rows) not in self._shared:
            row = tuple(self.clauses.either(literals) for literals in zip(*rows, strict=True))
            self._shared[place, rows] = row
            self._keep_kit(place, row, len(rows))
        return self._shared[place, rows]

    def _keep_kit(self, place: int, row: Row, keys: int, unless: int = FALSE) -> None:
        """The pins of these operating cuts exist, under whatever control cut, and are not too many. `unless`
        lets the lock be without any.
        """
        column, clauses = self.columns[place], self.clauses
        control = self.control[place] if self.control else None
        clauses.extend((-row[a], -row[b]) for a, b in column.of_two_series)
        clauses.extend((-row[a], -row[b], *row[a + 1 : b]) for a, b in column.no_master)
        clauses.extend((-row[a], *row[:a]) for a in column.no_bottom)
        clauses.extend((-row[a], *row[a + 1 :]) for a in column.no_top)
        if control is not None and column.is_sleeve:
            clauses.extend((-row[a], -control[c], *row[a + 1 :]) for a, c in column.no_control)
        elif control is not None:
            clauses.extend((unless, -control[c], row[c]) for c in range(len(row)))
        if column.max_cuts is not None and keys > column.max_cuts:
            possible = [place for place, literal in enumerate(row) if literal != FALSE]
            for cuts in combinations(possible, column.max_cuts + 1):
                if not any(pair in column.of_two_series for pair in combinations(cuts, 2)):
                    clauses.add(*(-row[cut] for cut in cuts))

    def forbid(self, pair: Pair, unless: Sequence[int] = ()) -> None:
        """Rule the pair out; a literal of `unless` lets it be."""
        if pair.what == "equal":
            rows = zip(self.rows[pair.one], self.rows[pair.other], strict=True)
            self.clauses.add(
                *unless, *(self._differs(place, one, two) for place, (one, two) in enumerate(rows))
            )
            return
        key, lock = self.rows[pair.one], self.locks[pair.other]
        if pair.what == "withdraws":
            self.clauses.add(
                *unless,
                *(self._stays(place, *rows) for place, rows in enumerate(zip(key, lock, strict=True))),
            )
            return
        missed = [self._misses(place, *rows) for place, rows in enumerate(zip(key, lock, strict=True))]
        least = self.chart.rules.min_differences
        if least > len(missed):
            self.clauses.add(*unless)
        for some in combinations(missed, max(len(missed) - least + 1, 0)):
            self.clauses.add(*unless, *some)

    def _differs(self, place: int, one: Row, two: Row) -> int:
        return self._none_of(place, one, two, "equal", list(zip(one, two, strict=True)))

    def _misses(self, place: int, key: Row, lock: Row) -> int:
        """Holds only if the key does not clear the operating line there. A control pin's top is a break."""
        column = self.columns[place]
        both = list(zip(key, lock, strict=True))
        if self.control is not None and column.is_sleeve:
            both += [(key[cut], self.control[place][low]) for low, cut in column.lifted]
        return self._none_of(place, key, lock, "turns", both)

    def _stays(self, place: int, key: Row, lock: Row) -> int:
        """Holds only if the key does not clear the line there at which a core comes out."""
        column = self.columns[place]
        if self.control is None or not column.is_sleeve:
            return self._none_of(place, key, lock, "turns", list(zip(key, lock, strict=True)))
        both = list(zip(key, self.control[place], strict=True))
        both += [(key[low], lock[cut]) for low, cut in column.lifted]
        return self._none_of(place, key, lock, "withdraws", both)

    def _none_of(self, place: int, key: Row, lock: Row, what: str, both: list[tuple[int, int]]) -> int:
        name = (place, key, lock, what)
        if name not in self._missed:
            self._missed[name] = self._none(both)
        return self._missed[name]

    def _none(self, both: list[tuple[int, int]]) -> int:
        """A literal that holds only if of each two literals one does not."""
        open_pairs = {pair for pair in both if FALSE not in pair}
        if (TRUE, TRUE) in open_pairs:
            return FALSE
        if not open_pairs:
            return TRUE
        known = {a if b == TRUE else b for a, b in open_pairs if TRUE in (a, b)}
        if len(known) == len(open_pairs) == 1:
            return -next(iter(known))
        name = self.clauses.variable()
        for a, b in open_pairs:
            self.clauses.add(-name, -a, -b)
        return name
