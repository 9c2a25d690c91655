"""Every picture of the estate with 1,000 doors and with 100,000: as many queries; how much longer it takes.

Two processes, each with a database of its own; a picture is asked of one and the other in turn, and the
quicker half counts. A building, a floor, a copy and a core are as large in both. The map of a site counts
all its doors, a fifth of the campus, so that it takes longer the more there are; its page stays as heavy.
`KEYCTL_API_DOORS` names another size than 100,000.
"""

import multiprocessing
import os
from statistics import median
from typing import Any

from tests.bench.campus_asked import Told
from tests.bench.mapped import PICTURES, serve
from tests.bench.report import Report, sized

SMALL, LARGE = 1_000, int(os.environ.get("KEYCTL_API_DOORS", sized(100_000, 3_000)))
TIMES = 8
AS_QUICK = 1 / 1.5
# Of a site the doors are counted, at most as many times slower as there are more of them.
BY_SIZE = SMALL / LARGE


def run(report: Report) -> None:
    context = multiprocessing.get_context("spawn")
    lines = []
    for doors in (SMALL, LARGE):
        line, far_end = context.Pipe()
        context.Process(target=serve, args=(far_end, doors)).start()
        far_end.close()
        lines.append(line)
    try:
        vendors = {line.recv() for line in lines}
        report.note(f"{'/'.join(vendors)}; columns: with {LARGE:,} doors, with {SMALL:,}, their ratio")
        for name in PICTURES:
            _compare(report, name, *lines)
    finally:
        for line in lines:
            line.send(None)


def _compare(report: Report, name: str, small: Any, large: Any) -> None:
    few, many = list[Told](), list[Told]()
    for _ in range(TIMES):
        for line, told in ((small, few), (large, many)):
            line.send(name)
            told.append(line.recv())
    numbers = sorted({few[-1].queries, many[-1].queries})
    held = "queries" if len(numbers) == 1 else "queries: NOT the same"
    weights = f"{few[-1].rows / 1024:.0f} and {many[-1].rows / 1024:.0f} KB"
    wanted = BY_SIZE if name.startswith("site") else AS_QUICK
    report.ratio(name, _quick(many), _quick(few), wanted, f"{'/'.join(map(str, numbers))} {held}; {weights}")


def _quick(told: list[Told]) -> float:
    """The middle of the quicker half, without the first, which warms up."""
    seconds = sorted(each.seconds for each in told[1:])
    return median(seconds[: len(seconds) // 2])
