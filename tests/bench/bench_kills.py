"""The deployed server killed amid swaps: 1,000 times on SQLite, 300 on PostgreSQL, which goes down with it.

The loop raises at the first answer that is missing afterwards, and at the first law that is broken.
"""

import os
import time
from pathlib import Path

from tests.bench.report import SEED, Report, sized
from tests.faults.__main__ import _ground
from tests.faults.killing import KillLoop
from tests.faults.serving import folder_on_disk

IS_APART = True
TIMES = {"sqlite": sized(1000, 6), "postgresql": sized(300, 6)}


def run(report: Report) -> None:
    for database, usual in TIMES.items():
        wanted = int(os.environ.get("KEYCTL_BENCH_KILLS", usual))
        began = time.perf_counter()
        with folder_on_disk() as folder, _ground(Path(folder), database) as (ground, on_kill):
            loop = KillLoop(ground, SEED, migrated=True)
            tally = loop.run(wanted, on_kill)
        report.at_least(
            f"{database}, kills outlived by all that was answered", tally.kills, wanted, "kills", str(tally)
        )
        report.note(f"{loop.durability}: {time.perf_counter() - began:.0f} s")
