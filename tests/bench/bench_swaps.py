"""Swaps over HTTP through the deployed server: one swap with its history per commit, eight clients.

Against the same server whose writers do not queue, and against a bare write and fsync on the same disk. Then
fifty tablets that want one core. SQLite, or PostgreSQL where KEYCTL_DATABASE_URL names it: a server of its
own that waits for the disk is started for it. `KEYCTL_SWAPS_S` names other seconds of each run.
"""

import os
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.bench.report import Report, bare_fsync, sized
from tests.faults.contest import Contest
from tests.faults.hands import Hand, Line, Wrong, hands_of
from tests.faults.looking import looking_at
from tests.faults.nursery import UNGATED
from tests.faults.postgresql import cluster
from tests.faults.serving import Ground, folder_on_disk

CLIENTS, DOORS, SPARES = 8, 3, 3
SECONDS = float(os.environ.get("KEYCTL_SWAPS_S", sized(8, 1)))
WARM_S = 1.0
FSYNCS = 500
FIFTY, ROUNDS = 50, 10
WANTED = {"sqlite": 150.0, "postgresql": 120.0}
WANTED_P95_S = {"sqlite": 0.060, "postgresql": 0.120}
WANTED_MAX_S = 0.5
WANTED_LAST_S = 1.0
ONE_PROCESS, TWO_PROCESSES = ("--workers", "1", "--threads", "8"), ("--workers", "2", "--threads", "4")


@dataclass(frozen=True)
class Run:
    waits: list[float]
    seconds: float
    reads: list[float]

    @property
    def rate(self) -> float:
        return len(self.waits) / self.seconds

    def within(self, share: float) -> float:
        return _share(sorted(self.waits), share)

    def __str__(self) -> str:
        half, most, rare, last = (self.within(share) * 1e3 for share in (0.5, 0.95, 0.99, 1))
        reads = sorted(self.reads)
        beside = f"; {len(reads)} pages read, 95 % within {_share(reads, 0.95) * 1e3:.0f} ms" if reads else ""
        return (
            f"{self.rate:,.0f} swaps/s; half within {half:.0f} ms, 95 % {most:.0f}, 99 % {rare:.0f}, "
            f"all {last:.0f}{beside}"
        )


def _share(waits: list[float], share: float) -> float:
    return waits[min(len(waits) - 1, int(len(waits) * share))]


def run(report: Report) -> None:
    database = "postgresql" if os.environ.get("KEYCTL_DATABASE_URL") else "sqlite"
    with folder_on_disk() as folder, _ground(folder, database) as ground:
        _swaps(report, ground, database)
        _fifty(report, ground)


@contextmanager
def _ground(folder: Path, database: str) -> Iterator[Ground]:
    if database == "sqlite":
        with Ground(folder) as ground:
            yield ground
        return
    with cluster(folder / "postgresql") as server, Ground(folder, server.url) as ground:
        yield ground


def _swaps(report: Report, ground: Ground, database: str) -> None:
    estate = ground.run("estate:make", tablets=CLIENTS, doors=DOORS, spares=SPARES, benches=0, migrated=False)
    report.note(f"{ground.run('looking_in:durability')}; {_load()}")
    bare = bare_fsync(ground.folder / "fsync", FSYNCS)
    ground.serve()
    hands = hands_of(estate, ground.port, seed=1)
    ground.kill()
    for name, arguments in (("1 process, 8 threads", ONE_PROCESS), ("2 processes, 4 threads", TWO_PROCESSES)):
        ours = _measured(ground, hands, arguments, {})
        _tell(report, name, ours, bare, database)
        # A page costs as much as several swaps: its reader is in a run of its own.
        report.note(f"  with a reader: {_measured(ground, hands, arguments, {}, is_read=True)}")
        if database == "sqlite":
            theirs = _measured(ground, hands, arguments, {UNGATED: "1"})
            report.note(f"  without the gate: {theirs}")
            report.ratio(f"{name}: longest wait, gate : none", ours.within(1), theirs.within(1), 1)
    with looking_at(ground.database, ground.database_url) as look:
        if faults := look.seen().faults:
            raise Wrong("; ".join(faults))


def _tell(report: Report, name: str, ours: Run, bare: float, database: str) -> None:
    report.note(f"{name}: {ours}")
    report.at_least(f"{name}: swaps of {CLIENTS} clients", ours.rate, WANTED[database], "/s")
    report.at_most(f"{name}: 95 % of the swaps", ours.within(0.95), WANTED_P95_S[database])
    report.at_most(f"{name}: the longest swap", ours.within(1), WANTED_MAX_S)
    report.ratio(f"{name}: a swap : one bare write and fsync", 1 / ours.rate, bare, 0)


def _measured(
    ground: Ground,
    hands: list[Hand],
    arguments: tuple[str, ...],
    environment: dict[str, str],
    *,
    is_read: bool = False,
) -> Run:
    for hand in hands:
        hand.line.hang_up()
    ground.serve(*arguments, environment=environment)
    waits: list[float] = []
    reads: list[float] = []
    end = time.perf_counter() + WARM_S + SECONDS
    reader = threading.Thread(target=_read, args=(Line(ground.port, dict(hands[0].line.cookies)), end, reads))
    if is_read:
        reader.start()
    with ThreadPoolExecutor(len(hands)) as pool:
        list(pool.map(lambda hand: _work(hand, end, waits), hands))
    if is_read:
        reader.join()
    ground.kill()
    return Run(waits, SECONDS, reads)


def _work(hand: Hand, end: float, waits: list[float]) -> None:
    wait, counted = 0.0, 0
    while (began := time.perf_counter()) < end:
        hand.act()
        wait = time.perf_counter() - began
        if began > end - SECONDS:
            counted += 1
            waits.append(wait)
    if not counted:
        # One act took longer than all the time there was.
        waits.append(wait)


def _read(line: Line, end: float, reads: list[float]) -> None:
    """Somebody who looks at a page ten times a second."""
    while (began := time.perf_counter()) < end:
        status, _, _ = line.ask("GET", "/estate/")
        if status != 200:
            raise Wrong(f"status {status} for a page")
        reads.append(time.perf_counter() - began)
        time.sleep(0.1)


def _fifty(report: Report, ground: Ground) -> None:
    """Fifty who want the same core in the same moment: by its page, version after version; then by tablet."""
    estate = ground.run("estate:make_contest", people=FIFTY)
    version = estate["version"]
    for arguments in (ONE_PROCESS, TWO_PROCESSES):
        ground.serve(*arguments)
        contest = Contest(estate, ground.port)
        waits = [wait for nth in range(ROUNDS) for wait in contest.by_page(version + nth)]
        version += ROUNDS
        _tell_contest(report, f"{arguments[1]} process, {ROUNDS} versions by page", waits)
        if arguments is TWO_PROCESSES:
            # The last, for then the core is disputed.
            _tell_contest(report, "by tablet", contest.by_tablet(version))
        ground.kill()


def _tell_contest(report: Report, name: str, waits: list[float]) -> None:
    waits.sort()
    remark = f"one winner each; half within {waits[len(waits) // 2] * 1e3:.0f} ms"
    report.at_most(f"{FIFTY} on one core, {name}: the last answer", waits[-1], WANTED_LAST_S, remark=remark)


def _load() -> str:
    return f"load of the machine before: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
