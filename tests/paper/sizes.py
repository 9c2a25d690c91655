"""Rows and bytes of each table and of its indexes at growing sizes; a straight line through them,
carried on to the largest size, and how far off it is from what was really filled there.
"""

from dataclasses import dataclass

import numpy as np

from tests.bench.report import Report
from tests.paper.filling import run
from tests.paper.telling import tell

MB = 1e6
SHOWN = 12
TABLES = """
    SELECT c.relname, c.reltuples, pg_table_size(c.oid), pg_indexes_size(c.oid)
    FROM pg_class c WHERE c.relkind = 'r' AND c.relnamespace = 'public'::regnamespace AND c.reltuples >= 100
"""


@dataclass(frozen=True)
class Size:
    rows: float
    table: float
    indexes: float

    @property
    def both(self) -> float:
        return self.table + self.indexes


Sizes = dict[str, Size]


def measured() -> Sizes:
    return {name: Size(rows, table, indexes) for name, rows, table, indexes in run(TABLES)}


def summed(sizes: Sizes) -> Size:
    parts = sizes.values()
    return Size(sum(s.rows for s in parts), sum(s.table for s in parts), sum(s.indexes for s in parts))


def is_history(table: str) -> bool:
    return table.startswith("audit_")


def tell_sizes(report: Report, doors: int, sizes: Sizes) -> None:
    """The largest first."""
    for name, size in sorted(sizes.items(), key=lambda each: -each[1].both)[:SHOWN]:
        tell(report, f"{doors:,} doors: {name}", size.both / MB, "MB", _parts(size))
    tell(report, f"{doors:,} doors: all tables", summed(sizes).both / MB, "MB", _parts(summed(sizes)))


def _parts(size: Size) -> str:
    return f"{size.rows:,.0f} rows; table {size.table / MB:,.1f}, indexes {size.indexes / MB:,.1f} MB"


def carry_on(report: Report, by_doors: dict[int, Sizes], wanted: int) -> dict[str, float]:
    """Bytes by least squares, of history and of the rest; told with the worst residual of the points."""
    doors, carried = np.array(sorted(by_doors), dtype=float), {}
    for what, belongs in (("history", is_history), ("all else", lambda name: not is_history(name))):
        for part in ("table", "indexes"):
            points = np.array(
                [sum(getattr(s, part) for n, s in by_doors[int(d)].items() if belongs(n)) for d in doors]
            )
            slope, floor = np.polyfit(doors, points, 1)
            worst = float(np.max(np.abs(slope * doors + floor - points) / points))
            carried[f"{what}, {part}"] = slope * wanted + floor
            remark = f"a line through {', '.join(f'{int(d):,}' for d in doors)}, off by {worst:.2%} at most"
            tell(
                report,
                f"{wanted:,} doors, carried on: {what}, {part}",
                carried[f"{what}, {part}"] / MB,
                "MB",
                remark,
            )
    return carried


def hold_against(report: Report, carried: dict[str, float], sizes: Sizes, doors: int) -> None:
    """The rest was filled in earnest there: table against table. Indexes made anew are smaller by the
    bloat.
    """
    rest = summed({name: size for name, size in sizes.items() if not is_history(name)})
    for part in ("table", "indexes"):
        off = getattr(rest, part) / carried[f"all else, {part}"] - 1
        tell(
            report,
            f"{doors:,} doors filled: all else, {part}",
            getattr(rest, part) / MB,
            "MB",
            f"{off:+.1%} of the line",
        )


def bloat(report: Report, before: Sizes, doors: int) -> None:
    """How much larger indexes are that grew row by row than indexes made anew."""
    for name in before:
        run(f'REINDEX TABLE "{name}"')
    ratio = summed(before).indexes / summed(measured()).indexes
    tell(report, f"{doors:,} doors: indexes that grew, as many times those made anew", ratio, "x")
