"""The first page with 1,000 doors and with 100,000: as many queries, and as quick, whoever asks.

Two processes, each with a database of its own (see ``bench_api``); the page is fetched from one and the other
in turn, and the quicker half counts. ``KEYCTL_START_DOORS`` names another size.
"""

import os
import time
from statistics import median

from tests.bench.apart import Campus
from tests.bench.mornings import PEOPLE, Told, serve
from tests.bench.report import Report, sized

SMALL, LARGE = 1_000, int(os.environ.get("KEYCTL_START_DOORS", sized(100_000, 3_000)))
TIMES = 12
WANTED = 1 / 1.5


def run(report: Report) -> None:
    began = time.perf_counter()
    with Campus(serve, SMALL) as small, Campus(serve, LARGE) as large:
        vendor = small.heard()
        large.heard()
        report.note(f"{vendor}; {SMALL:,} and {LARGE:,} doors written in {time.perf_counter() - began:.0f} s")
        report.note(f"columns: with {LARGE:,} doors, with {SMALL:,}, their ratio")
        for name in PEOPLE:
            _compare(report, name, small, large)


def _compare(report: Report, name: str, small: Campus, large: Campus) -> None:
    few, many = [small.asked(name)], [large.asked(name)]  # the first of each warms up
    for _ in range(TIMES):
        few.append(small.asked(name))
        many.append(large.asked(name))
    numbers = sorted({few[-1].queries, many[-1].queries})
    held = "queries" if len(numbers) == 1 else "queries: NOT the same"
    remark = f"{'/'.join(map(str, numbers))} {held}; {few[-1].size:,} and {many[-1].size:,} bytes"
    report.ratio(f"first page of the {name}", _quick(many), _quick(few), WANTED, remark)


def _quick(told: list[Told]) -> float:
    """The middle of the quicker half: what else the machine did is in the slower one."""
    seconds = sorted(each.seconds for each in told[1:])
    return median(seconds[: len(seconds) // 2])
