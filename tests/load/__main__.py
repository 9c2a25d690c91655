"""``python -m tests.load``: an estate, a crowd, and what became of both."""

import argparse
import json
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path

from tests.bench.record import keep
from tests.bench.report import Report
from tests.faults.looking import looking_at
from tests.faults.postgresql import cluster
from tests.faults.serving import DISK, NotDone
from tests.load import holding
from tests.load.book import Book
from tests.load.crowd import Crowd
from tests.load.ground import Ground
from tests.load.memory import Watch
from tests.load.people.person import Json
from tests.load.telling import Outcome, tell, troubles, warnings

NAMES = {"sqlite": "SQLite", "postgres": "PostgreSQL"}
EMPTY_WITHIN_S = 180.0
UNFINISHED = "SELECT count(*) FROM jobs_job WHERE state IN ('waiting', 'running', 'stopping')"


def arguments(words: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.load", description=__doc__)
    parser.add_argument("--database", choices=list(NAMES), default="sqlite")
    parser.add_argument("--people", type=int, default=60)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--doors", type=int, default=600, help="of the invented estate that is built for it")
    parser.add_argument("--estate", type=Path, help="a folder with data and secrets, to be copied")
    parser.add_argument("--seed", type=int, default=20_26)
    parser.add_argument("--pace", type=float, default=1.0, help="of thinking; 0.5 is twice as quick")
    parser.add_argument("--keep", action="store_true", help="into the committed record")
    parser.add_argument("--logs", type=Path, help="a folder for a copy of all logs")
    return parser.parse_args(words)


def main(words: list[str]) -> int:
    asked = arguments(words)
    # A signal ends it like an error would: whatever runs is ended on the way out.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    report = Report()
    with ExitStack() as stack:
        began = time.perf_counter()
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="keyctl-load-", dir=DISK)))
        url = stack.enter_context(_database(asked.database, folder))
        ground = stack.enter_context(Ground(folder / "keyctl", url))
        ground.folder.mkdir()
        ground.folder.parent.chmod(0o711)
        try:
            outcome = _run(ground, asked)
        finally:
            ground.stop()
            _copy_logs(ground, asked.logs)
        tell(outcome, report)
        if asked.keep:
            keep(f"load-{asked.database}", report, seconds=time.perf_counter() - began, seed=asked.seed)
    return 1 if outcome.book.wrong or outcome.broken or outcome.in_logs else 0


@contextmanager
def _database(kind: str, folder: Path) -> Iterator[str]:
    if kind == "sqlite":
        yield ""
        return
    with cluster(folder / "postgresql") as server:
        yield server.url


def _run(ground: Ground, asked: argparse.Namespace) -> Outcome:
    doors = _estate(ground, asked)
    _say(f"an estate of {doors:,} doors stands; casting {asked.people} people")
    told: Json = json.loads(
        ground.run("-m", "tests.load.casting", "--people", str(asked.people), "--seed", str(asked.seed))
    )
    with looking_at(ground.database, ground.database_url) as look:
        first = look.number(holding.LAST_EVENT)
    book = Book()
    crowd = Crowd(told, ground.port, book, asked.seed, asked.pace)
    ground.start()
    watch = Watch(ground.processes)
    since, began = datetime.now(UTC), time.monotonic()
    watch.start()
    _say(f"{asked.people} people work for {asked.minutes:g} minutes")
    try:
        crowd.work(asked.minutes * 60)
    finally:
        crowd.over.set()
        watch.end()
    seconds = time.monotonic() - began
    _say(
        f"they went home after {len(book.acts)} acts and {len(book.wrong)} errors; now everything is checked"
    )
    _save(book, asked.logs)
    broken = [*_ended(ground), *_until_empty(ground)]
    ground.stop()
    with looking_at(ground.database, ground.database_url) as look:
        broken += holding.faults(look, book, first, told["mark"])
        broken += holding.spots(look, crowd.spots())
        waits = holding.waits(look, since)
    broken += [*_checked(ground, "check_estate"), *_checked(ground, "check_history")]
    where = f"{NAMES[asked.database]}, {doors:,} doors"
    return Outcome(
        where, book, watch.climbs(), waits, broken, troubles(ground.logs), warnings(ground.logs), seconds
    )


def _estate(ground: Ground, asked: argparse.Namespace) -> int:
    if asked.estate:
        if asked.database != "sqlite":
            raise NotDone("A folder is copied for SQLite; for PostgreSQL an estate of --doors is built.")
        ground.take(asked.estate)
        ground.run("manage.py", "migrate", "--verbosity", "0")
    else:
        _say(f"building an invented estate of {asked.doors:,} doors")
        ground.run("manage.py", "demo", "--no-serve", "--doors", str(asked.doors), within=7200)
    with looking_at(ground.database, ground.database_url) as look:
        return look.number("SELECT count(*) FROM places_door")


def _ended(ground: Ground) -> list[str]:
    return [f"{name} ended by itself" for name in ground.ended()]


def _until_empty(ground: Ground) -> list[str]:
    """What the crowd started is finished by the workers, before they are told to end."""
    deadline = time.monotonic() + EMPTY_WITHIN_S
    left = 1
    while left and time.monotonic() < deadline:
        time.sleep(1)
        with looking_at(ground.database, ground.database_url) as look:
            left = look.number(UNFINISHED)
    return [f"{left} jobs are unfinished {EMPTY_WITHIN_S:.0f} s after everybody left"] if left else []


def _checked(ground: Ground, command: str) -> list[str]:
    try:
        ground.run("manage.py", command)
    except NotDone as fault:
        return [str(fault)[-1500:]]
    return []


def _save(book: Book, place: Path | None) -> None:
    """Beside the logs, before the long looks begin: what was asked and answered."""
    if place is None:
        return
    place.mkdir(parents=True, exist_ok=True)
    told = {"wrong": book.wrong, "seconds": book.seconds, "acts": Counter(act.what for act in book.acts)}
    (place / "book.json").write_text(json.dumps(told, indent=1))


def _copy_logs(ground: Ground, place: Path | None) -> None:
    if place is None:
        return
    place.mkdir(parents=True, exist_ok=True)
    for log in ground.logs:
        (place / log.name).write_bytes(log.read_bytes())


def _say(words: str) -> None:
    print(f"{datetime.now(UTC):%H:%M:%S} {words}", flush=True)  # noqa: T201


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
