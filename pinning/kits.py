"""What the format, its kit and the rules allow in one position, as places in the list of depths.

>>> from pinning.charts import Chart
>>> from pinning.formats import load
>>> column = columns_of(Chart(load("small-a2-6"), ("A",), ("1",), ((0,),), (frozenset(),)))[0]
>>> column.is_sleeve, (3, 4) in column.of_two_series, column.no_master, column.no_control
(True, True, (), ((9, 0),))
"""

from dataclasses import dataclass
from functools import lru_cache

from pinning.charts import Chart
from pinning.figures import CoreFormat

__all__ = ["Column", "columns_of"]

Places = tuple[int, ...]
PlacePairs = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Column:
    """`no_master`: two neighbouring operating cuts without a pin between them; `no_bottom`: no shallowest
    cut; `no_top`: no deepest cut; `no_control`: (deepest, control cut) without a control pin; `lifted`:
    (low, high), a cut and the one as far below it as the sleeve is thick.
    """

    values: Places
    places: Places
    is_sleeve: bool
    of_two_series: frozenset[tuple[int, int]]
    no_master: PlacePairs
    no_bottom: Places
    no_top: Places
    no_control: PlacePairs
    control_places: Places
    lifted: PlacePairs
    max_cuts: int | None


def columns_of(chart: Chart) -> tuple[Column, ...]:
    """One for each position of the core, in order."""
    format = chart.format
    return tuple(
        _column(format, position, chart.rules.max_cuts) for position in range(1, format.positions + 1)
    )


@lru_cache(maxsize=256)
def _column(format: CoreFormat, position: int, max_cuts: int | None) -> Column:
    values = format.depth_values
    under_sleeve = position in format.sleeve
    numbered = list(enumerate(values))
    pairs = [(a, b) for b, _ in numbered for a in range(b)]
    return Column(
        values,
        tuple(range(len(values))),
        under_sleeve,
        frozenset((a, b) for a, b in pairs if (values[b] - values[a]) % format.step),
        tuple((a, b) for a, b in pairs if _no_master(format, values[b] - values[a])),
        tuple(a for a, value in numbered if value not in format.pins.bottom),
        ()
        if under_sleeve
        else tuple(a for a, value in numbered if format.plain_top(value) not in format.pins.top),
        _no_control(format) if under_sleeve else (),
        tuple(c for c, value in numbered if not under_sleeve or _has_top(format, value)),
        tuple((values.index(v - format.addition), b) for b, v in numbered if v - format.addition in values)
        if under_sleeve
        else (),
        max_cuts,
    )


def _no_master(format: CoreFormat, size: int) -> bool:
    return size % format.step == 0 and size not in format.pins.master


def _no_control(format: CoreFormat) -> PlacePairs:
    numbered = list(enumerate(format.depth_values))
    return tuple(
        (a, c)
        for a, deepest in numbered
        for c, cut in numbered
        if cut + format.addition - deepest not in format.pins.control
    )


def _has_top(format: CoreFormat, cut: int) -> bool:
    return (format.total.sleeve or 0) - format.addition - cut in format.pins.top
