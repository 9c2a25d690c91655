"""The tables as files that people read and compare: a row for each route and method."""

import csv
import io
from collections.abc import Iterable
from pathlib import Path

from tests.matrix import expected, programs
from tests.matrix.people import ACTORS, TWINS
from tests.matrix.rows import Row

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
OF_PEOPLE, OF_PROGRAMS = FIXTURES / "permissions.csv", FIXTURES / "permissions-of-programs.csv"
NAMES = [actor.name for actor in ACTORS]
TWIN_NAMES = [twin.name for twin in TWINS]


def files() -> dict[Path, str]:
    people = ([row.route, row.method, *_named(row, NAMES), _twins(row)] for row in expected.rows())
    kinds = [program.name for program in programs.PROGRAMS]
    tokens = ([row.route, row.method, *_named(row, kinds)] for row in programs.rows())
    return {
        OF_PEOPLE: _told([*NAMES, "of-the-other-site"], people),
        OF_PROGRAMS: _told(kinds, tokens),
    }


def _told(heads: list[str], lines: Iterable[list[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["route", "method", *heads])
    writer.writerows(lines)
    return out.getvalue()


def _named(row: Row, names: list[str]) -> list[str]:
    return [row.cells[name] for name in names]


def _twins(row: Row) -> str:
    """Twins share a column: what all of them get, or who of them gets what."""
    cells = {name.removeprefix("twin-"): row.cells[name] for name in TWIN_NAMES if name in row.cells}
    if not cells:
        return "-"
    if len(set(cells.values())) == 1:
        return next(iter(cells.values()))
    return " ".join(f"{name}={cell}" for name, cell in cells.items())
