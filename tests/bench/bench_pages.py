"""Every address that reads, with 1,000 doors and with 100,000: as many queries, and how long it takes.

Two processes, each with a database of its own (see ``bench_api``), asked in turn. Besides: which large tables
the database reads whole for a page, and which indexes led it. ``KEYCTL_PAGES_DOORS`` names another size,
``KEYCTL_PAGES`` a beginning of the routes' names.
"""

import os
import time
from typing import Any

from tests.bench.apart import Campus
from tests.bench.report import Report
from tests.budgets.campus import Told, serve

IS_APART = True
SMALL, LARGE = 1_000, int(os.environ.get("KEYCTL_PAGES_DOORS", "100000"))
SLOW_S = 0.3
TOLD = 15


def run(report: Report) -> None:
    began = time.perf_counter()
    with Campus(serve, SMALL) as small, Campus(serve, LARGE) as large:
        vendor, _ = small.line.recv(), large.line.recv()
        report.note(f"{vendor}; {SMALL:,} and {LARGE:,} doors written in {time.perf_counter() - began:.0f} s")
        pairs = [(small.asked(row), large.asked(row)) for row in _rows()]
        small.asked(None)
        used = large.asked(None)
    for few, many in pairs:
        if isinstance(few, str) or isinstance(many, str):
            report.note(f"NOT answered: {few} | {many}")
    _tell(report, vendor, [pair for pair in pairs if not any(isinstance(each, str) for each in pair)])
    report.note(f"indexes that led a query: {' '.join(used)}")


def _rows() -> list[Any]:
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    from tests.budgets.asking import reading

    beginning = os.environ.get("KEYCTL_PAGES", "")
    return [row for row in reading() if row.route.startswith(beginning)]


def _tell(report: Report, vendor: str, pairs: list[tuple[Told, Told]]) -> None:
    others = [
        f"{few.route} {few.queries}/{many.queries}" for few, many in pairs if few.queries != many.queries
    ]
    by_time = sorted(pairs, key=lambda pair: -pair[1].seconds)
    slow = [many.route for _, many in by_time if many.seconds > SLOW_S]
    size = f"{LARGE:,} doors, {vendor}"
    report.at_most(
        f"pages whose number of queries differs, {size}", len(others), 0, "pages", ", ".join(others)
    )
    report.at_most(f"pages over 300 ms, {size}", len(slow), 0, "pages", ", ".join(slow))
    for few, many in by_time[:TOLD]:
        report.note(f"{_words(few, many)}; reads whole: {', '.join(many.scans) or 'nothing'}")
    report.note("pages that read a large table whole:")
    for few, many in by_time[TOLD:]:
        if many.scans:
            report.note(f"  {_words(few, many)}: {', '.join(many.scans)}")


def _words(few: Told, many: Told) -> str:
    times = many.seconds / max(few.seconds, 1e-6)
    return (
        f"{many.route} as {many.who}, {many.queries} queries: {many.seconds * 1e3:.0f} ms, "
        f"with {SMALL:,} doors {few.seconds * 1e3:.0f} ms, {times:.1f} times"
    )
