"""What decoded cores and keys in circulation say about the top master of a system nobody has papers of.

Every piece of evidence is a `Row`: the ways in which it can have come about, each with a weight and, per
position, how well each cut of a top master goes with it. The rows are independent of each other given the
master, so the chance of all of them under one master is the product over the rows of

    sum over the ways of (weight x product over the positions of the factor of the master's cut there).

A decoded core belongs to the system (weight 0.9: in each position it holds the master's cut, and any cuts of
the master's series besides, with a chance of 0.97; else the position was misread, by one depth in one cut or
altogether, each as often) or it does not (0.1: any cuts of one series in each position). A change key known
to be the core's own carries the master's cut in a position with several cuts only by a slip (0.03). Where a
position was read in several ways, the first one has half the weight.

A key in circulation that turns one decoded core is its change key (0.7) or some master (0.3, then it carries
the top master's cut or another one alike often); one that turns several is the top master (0.3) or one below.
The figures are ours, round and on the cautious side; `candidates` says what follows from them.

>>> from pinning.formats import load
>>> a2 = load("small-a2-5")
>>> core = SeenCore("C1", tuple((frozenset({1, cut}),) for cut in (3, 5, 7, 9, 3)))
>>> core.carries(0, 3), core.carries(0, 5), core.is_turned_by((1, 5, 1, 9, 1))
(True, False, True)
>>> row = core_row(a2, core)
>>> row.likelihood((1, 1, 1, 1, 1)) > 1e4 * row.likelihood((7, 1, 1, 1, 7))
True
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from math import comb, prod

from pinning.bittings import Bitting
from pinning.columns import PinStack
from pinning.decode import meant_cuts
from pinning.formats import CoreFormat
from pinning.reading import Reading

__all__ = [
    "CircularKey",
    "Column",
    "Row",
    "SeenCore",
    "core_row",
    "core_rows",
    "key_rows",
    "seen_reading",
    "series",
]

BELONGS = 0.9
READ_WELL = 0.97
ONE_OFF = 0.5
SLIP = 0.03
IS_CHANGE = 0.7
IS_TOP = 0.3
FIRST_READING = 0.5

Cuts = tuple[int, ...]
Column = tuple[frozenset[int], ...]  # the ways one position can be read, the likeliest first
Table = dict[int, float]  # by the master's cut


@dataclass(frozen=True, slots=True)
class SeenCore:
    """A decoded core: per position the sets of operating cuts it may hold.

    `control` holds the control cut by position, None outside the sleeve or where nothing told it. `change` is
    the core's own change key where somebody knows it, `group` the name of a part of the system that the core
    is said to belong to.
    """

    name: str
    columns: tuple[Column, ...] = field(repr=False)
    control: tuple[int | None, ...] | None = field(default=None, repr=False)
    change: Bitting | None = field(default=None, repr=False)
    group: str | None = None

    def carries(self, place: int, cut: int) -> bool:
        """Whether the position (from 0) holds that cut in its likeliest reading."""
        return cut in self.columns[place][0]

    def is_turned_by(self, cuts: Sequence[int]) -> bool:
        return all(self.carries(place, cut) for place, cut in enumerate(cuts))

    def misses(self, cuts: Sequence[int]) -> list[int]:
        """The positions, from 1, in which the core does not hold the key's cut."""
        return [place + 1 for place, cut in enumerate(cuts) if not self.carries(place, cut)]

    def beside(self, place: int, cut: int) -> frozenset[int]:
        """The other cuts of a position that holds this one; none where it does not."""
        column = self.columns[place][0]
        return column - {cut} if cut in column else frozenset()


@dataclass(frozen=True, slots=True)
class CircularKey:
    """A key in circulation, by whatever name it goes."""

    name: str
    bitting: Bitting = field(repr=False)


@dataclass(frozen=True, slots=True)
class Row:
    """One piece of evidence: per way it can have come about, its weight and, by position, the factor of each
    cut that the master can have there.
    """

    ways: tuple[tuple[float, tuple[Table, ...]], ...] = field(repr=False)

    def likelihood(self, master: Cuts) -> float:
        """The chance of this evidence under that master, up to a constant."""
        return sum(weight * _product(tables, master) for weight, tables in self.ways)

    def first_way(self, master: Cuts) -> float:
        """How likely the first way is, given that master: whether the core belongs."""
        weight, tables = self.ways[0]
        return weight * _product(tables, master) / self.likelihood(master)


def _product(tables: tuple[Table, ...], master: Cuts) -> float:
    return prod(table[cut] for table, cut in zip(tables, master, strict=True))


def series(format: CoreFormat, cut: int) -> tuple[int, ...]:
    """The depths that may stand in one position with that cut."""
    return tuple(depth for depth in format.depth_values if (depth - cut) % format.step == 0)


def seen_reading(name: str, reading: Reading, group: str | None = None) -> SeenCore:
    """A core from its pins; where they are in doubt, the likely stacks count as further readings."""
    format = reading.pinning.format
    columns = [[frozenset(cuts)] if cuts else [] for cuts in reading.operating]
    for doubt in reading.doubts:
        for stack in doubt.alternatives:
            if isinstance(stack, PinStack):
                cuts = frozenset(meant_cuts(format, stack)) & frozenset(format.depth_values)
                _add(columns[doubt.position - 1], cuts)
    control = tuple(
        cuts[0] if position in format.sleeve and len(cuts) == 1 else None
        for position, cuts in enumerate(reading.control_cuts, 1)
    )
    open_column = frozenset(format.depth_values)
    return SeenCore(
        name, tuple(tuple(column) or (open_column,) for column in columns), control or None, None, group
    )


def _add(column: list[frozenset[int]], cuts: frozenset[int]) -> None:
    if cuts and cuts not in column:
        column.append(cuts)


def core_row(format: CoreFormat, core: SeenCore) -> Row:
    [row] = core_rows(format, [core])
    return row


def core_rows(format: CoreFormat, cores: Sequence[SeenCore]) -> list[Row]:
    """A row per core. Cores of a system share their columns, so each column is weighed once."""
    weighed: dict[Column, tuple[Table, Table]] = {}
    rows = []
    for core in cores:
        for column in core.columns:
            if column not in weighed:
                weighed[column] = _weighed(format, column)
        belongs = tuple(_belonging(core, place, weighed) for place in range(format.positions))
        foreign = tuple(weighed[column][1] for column in core.columns)
        rows.append(Row(((BELONGS, belongs), (1 - BELONGS, foreign))))
    return rows


def _weighed(format: CoreFormat, column: Column) -> tuple[Table, Table]:
    """By the master's cut, the chance of a position's readings in a core that belongs, and in any other."""
    belongs = {cut: _over(column, partial(_with_master, format, cut)) for cut in format.depth_values}
    return belongs, dict.fromkeys(format.depth_values, _over(column, partial(_any_cuts, format)))


def _belonging(core: SeenCore, place: int, weighed: dict[Column, tuple[Table, Table]]) -> Table:
    column = core.columns[place]
    table = weighed[column][0]
    if core.change is None or len(column[0]) == 1:
        return table
    own = core.change.cuts[place]
    return table | {own: table[own] * SLIP}


def _over(column: Column, chance: Callable[[frozenset[int]], float]) -> float:
    """The chance of a position under its readings, the first one weighing half."""
    first, *others = [chance(cuts) for cuts in column]
    if not others:
        return first
    return FIRST_READING * first + (1 - FIRST_READING) * sum(others) / len(others)


def _with_master(format: CoreFormat, master: int, cuts: frozenset[int]) -> float:
    if len(cuts) == len(format.depth_values):
        return 1.0  # no pins: it takes every key
    own = series(format, master)
    fits = master in cuts and cuts <= set(own)
    alike = comb(len(own) - 1, len(cuts) - 1)  # sets of that size that hold the master's cut
    misread = _one_off(own, master, cuts) / alike if alike else 0.0
    return (
        (READ_WELL / alike if fits else 0.0)
        + (1 - READ_WELL) * ONE_OFF * misread
        + (1 - READ_WELL) * (1 - ONE_OFF) * _any_cuts(format, cuts)
    )


def _one_off(own: tuple[int, ...], master: int, cuts: frozenset[int]) -> float:
    """Of the ways to have read one cut one depth off, the share that come from a set with the master's."""
    ways = 0
    for cut in cuts:
        for moved in (cut - 1, cut + 1):
            meant = cuts - {cut} | {moved}
            ways += len(meant) == len(cuts) and master in meant and meant <= set(own)
    return ways / (2 * len(cuts))


def _any_cuts(format: CoreFormat, cuts: frozenset[int]) -> float:
    """The chance of these cuts among all sets of as many cuts: of one series, unless they are not."""
    depths = format.depth_values
    if len(cuts) == len(depths):
        return 1.0
    kinds = {tuple(series(format, depth)) for depth in depths}
    if any(cuts <= set(kind) for kind in kinds):
        return 1 / sum(comb(len(kind), len(cuts)) for kind in kinds)
    return 1 / comb(len(depths), len(cuts))


def key_rows(format: CoreFormat, keys: Sequence[CircularKey], cores: Sequence[SeenCore]) -> list[Row]:
    """A row for every key that turns a decoded core."""
    rows = []
    for key in keys:
        turned = [core for core in cores if core.is_turned_by(key.bitting.cuts)]
        if len(turned) == 1:
            rows.append(_change_row(format, key, turned[0]))
        elif turned:
            rows.append(_master_row(format, key, turned))
    return rows


def _change_row(format: CoreFormat, key: CircularKey, core: SeenCore) -> Row:
    change = [_told(format, key, place, core, own=SLIP, other=1 - SLIP) for place in range(format.positions)]
    some = [_told(format, key, place, core, own=0.5, other=0.5) for place in range(format.positions)]
    return Row(((IS_CHANGE, tuple(change)), (1 - IS_CHANGE, tuple(some))))


def _told(
    format: CoreFormat, key: CircularKey, place: int, core: SeenCore, *, own: float, other: float
) -> Table:
    """How well a master's cut goes with the key's; a position with one cut tells nothing."""
    cut = key.bitting.cuts[place]
    if len(core.columns[place][0]) == 1:
        return dict.fromkeys(format.depth_values, 1.0)
    return {depth: own if depth == cut else other for depth in format.depth_values}


def _master_row(format: CoreFormat, key: CircularKey, turned: Sequence[SeenCore]) -> Row:
    """The key carries a cut that all these cores share; where they share two it might carry the other."""
    top, below = [], []
    for place, cut in enumerate(key.bitting.cuts):
        shared = frozenset.intersection(*(core.columns[place][0] for core in turned))
        alike = 0.5 if len(shared) > 1 else 1.0
        top.append({depth: 1.0 if depth == cut else SLIP for depth in format.depth_values})
        below.append(dict.fromkeys(format.depth_values, alike))
    return Row(((IS_TOP, tuple(top)), (1 - IS_TOP, tuple(below))))
