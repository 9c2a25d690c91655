"""Every list and every thing of the API with 1,000 doors and with 100,000: as many queries, and as quick.

Two processes, each with a database of its own; a question is asked of one and the other in turn, and the
quicker half counts. Of a list the first page and the last; a token of four of the six sites, and one of the
sixth alone, which is as small in both. SQLite, or PostgreSQL where KEYCTL_DATABASE_URL names a server that
takes more databases (`bash .ci/postgres python -m tests.bench api`). `KEYCTL_API_DOORS` names another size.
"""

import os
import time
from dataclasses import replace
from statistics import median

from tests.bench.apart import Campus
from tests.bench.campus_asked import Question, Told, serve
from tests.bench.report import Report, sized

SMALL, LARGE = 1_000, int(os.environ.get("KEYCTL_API_DOORS", sized(100_000, 3_000)))
TIMES = 12
WANTED = 1 / 1.3


def run(report: Report) -> None:
    began = time.perf_counter()
    with Campus(serve, SMALL) as small, Campus(serve, LARGE) as large:
        questions, vendor = small.heard()
        also, _ = large.heard()
        if questions != also:
            raise ValueError("the two are asked the same")
        report.note(f"{vendor}; {SMALL:,} and {LARGE:,} doors written in {time.perf_counter() - began:.0f} s")
        report.note(f"columns: with {LARGE:,} doors, with {SMALL:,}, their ratio")
        for question in questions:
            _compare(report, question, small, large)


def _compare(report: Report, question: Question, small: Campus, large: Campus) -> None:
    # Pages of as many rows: of some things a small campus has less than a page.
    question = replace(question, limit=max(1, min(small.asked(question).rows, large.asked(question).rows)))
    few, many = [small.asked(question)], [large.asked(question)]  # the first of each warms up
    for _ in range(TIMES):
        few.append(small.asked(question))
        many.append(large.asked(question))
    numbers = sorted({few[0].queries, many[0].queries})
    held = "queries" if len(numbers) == 1 else "queries: NOT the same"
    remark = f"{'/'.join(map(str, numbers))} {held}; {few[0].rows} and {many[0].rows} rows"
    report.ratio(str(question), _quick(many), _quick(few), WANTED, remark)


def _quick(told: list[Told]) -> float:
    """The middle of the quicker half: what else the machine did is in the slower one."""
    seconds = sorted(each.seconds for each in told[1:])
    return median(seconds[: len(seconds) // 2])
