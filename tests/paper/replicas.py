"""The part ``replica``: a streaming copy of the server on loopback, how far it lags, and what waiting
for it costs.

Somebody who has just written reads from a copy only once the copy has replayed what they wrote: the
writer keeps the log's position, and the reader compares two numbers.
"""

import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import psycopg

from tests.bench.report import Report
from tests.faults.postgresql import Cluster
from tests.faults.serving import free_port
from tests.paper.telling import tell

TIMES, BURST = 200, 200_000
REPLAYED = "SELECT pg_last_wal_replay_lsn() >= %s::pg_lsn"


def run(report: Report, _largest: int) -> None:
    from tests.paper.server import product

    with product() as primary:
        _prepare()
        with _copy_of(primary) as replica, _opened(primary) as writer, _opened(replica) as reader:
            _lag(report, "each after a commit of one row", _each(writer, reader))
            _burst(report, writer, reader)
            _asking(report, writer, reader)
            _commits(report, writer, replica)
            _reads(report, replica)


def _prepare() -> None:
    from tests.paper import filling

    maker = filling.begin()
    filling.fill(maker, (0, 2_000))
    filling.run("CREATE TABLE paper_lag (n integer, words text)")


@contextmanager
def _copy_of(primary: Cluster) -> Iterator[Cluster]:
    folder = primary.folder.parent / "replica"
    folder.mkdir()
    shutil.chown(folder, *_owner(primary.folder))
    made = replace(primary, folder=folder, port=free_port())
    source = ("-h", "127.0.0.1", "-p", str(primary.port), "-U", "keyctl")
    made.run("pg_basebackup", *source, "-D", f"{folder}/data", "-R", "-X", "stream", "-c", "fast")
    made.start()
    try:
        yield made
    finally:
        made.die()


def _owner(folder: Path) -> tuple[int, int]:
    status = folder.stat()
    return status.st_uid, status.st_gid


@contextmanager
def _opened(server: Cluster) -> Iterator[psycopg.Connection[Any]]:
    with psycopg.connect(server.url, autocommit=True) as connection:
        yield connection


def _each(writer: psycopg.Connection[Any], reader: psycopg.Connection[Any]) -> list[float]:
    """Seconds from a commit until the copy has it."""
    found = []
    for nth in range(TIMES):
        writer.execute("INSERT INTO paper_lag VALUES (%s, 'words')", [nth])
        began = time.perf_counter()
        position = _one(writer, "SELECT pg_current_wal_flush_lsn()::text")
        _wait(reader, position)
        found.append(time.perf_counter() - began)
    return sorted(found)


def _one(connection: psycopg.Connection[Any], sql: str, parameters: Any = None) -> Any:
    row = connection.execute(sql.encode(), parameters).fetchone()
    assert row is not None
    return row[0]


def _wait(reader: psycopg.Connection[Any], position: str) -> None:
    while not _one(reader, REPLAYED, [position]):
        pass


def _lag(report: Report, name: str, found: list[float]) -> None:
    middle, longest = found[len(found) // 2] * 1e3, found[-1] * 1e3
    worst = f"the middle {middle:.2f} ms, the longest {longest:.1f} ms, of {len(found)}"
    tell(
        report,
        f"lag of a copy on loopback, {name}, the 95th of 100",
        found[len(found) * 95 // 100] * 1e3,
        "ms",
        worst,
    )


def _burst(report: Report, writer: psycopg.Connection[Any], reader: psycopg.Connection[Any]) -> None:
    """A plain insert of many rows, as an import writes them."""
    began = time.perf_counter()
    writer.execute("INSERT INTO paper_lag SELECT n, md5(n::text) FROM generate_series(1, %s) n", [BURST])
    written = time.perf_counter()
    _wait(reader, _one(writer, "SELECT pg_current_wal_flush_lsn()::text"))
    remark = f"written in {written - began:.2f} s"
    tell(
        report,
        f"lag after {BURST:,} rows in one transaction",
        (time.perf_counter() - written) * 1e3,
        "ms",
        remark,
    )


def _asking(report: Report, writer: psycopg.Connection[Any], reader: psycopg.Connection[Any]) -> None:
    position = _one(writer, "SELECT pg_current_wal_flush_lsn()::text")
    for name, connection, sql, parameters in (
        ("a writer's position noted", writer, "SELECT pg_current_wal_flush_lsn()::text", None),
        ("the copy asked whether it has it", reader, REPLAYED, [position]),
    ):
        seconds = _mean(lambda c=connection, s=sql, p=parameters: _one(c, s, p))  # type: ignore[misc]
        tell(report, name, seconds * 1e3, "ms", "what staying at one's own writes costs a request")


def _mean(work: Callable[[], Any]) -> float:
    began = time.perf_counter()
    for _ in range(TIMES):
        work()
    return (time.perf_counter() - began) / TIMES


def _commits(report: Report, writer: psycopg.Connection[Any], replica: Cluster) -> None:
    """The head of history is held until a commit is over, so what a commit waits for bounds all writers."""
    # As a copy calls itself by default.
    writer.execute("ALTER SYSTEM SET synchronous_standby_names = 'walreceiver'")
    writer.execute("SELECT pg_reload_conf()")
    time.sleep(1)
    assert _one(writer, "SELECT sync_state FROM pg_stat_replication") == "sync"
    for name, level in (
        ("its own disk", "local"),
        ("the copy's disk", "on"),
        ("the copy's replay", "remote_apply"),
    ):
        writer.execute(f"SET synchronous_commit = '{level}'".encode())
        seconds = _mean(lambda: writer.execute("INSERT INTO paper_lag VALUES (1, 'words')"))
        tell(report, f"a commit that waits for {name}", seconds * 1e3, "ms")


def _reads(report: Report, replica: Cluster) -> None:
    """The pages and lists, asked of the copy, which takes no write at all: which of them go."""
    from django.db import connection

    connection.close()
    port = connection.settings_dict["PORT"]
    from keyctl.accounts.models import User
    from tests.paper.pages import Readers

    readers = Readers(User.objects.get(username="maker"))
    _wait_for_sessions(replica, connection)
    connection.close()
    connection.settings_dict["PORT"] = str(replica.port)
    try:
        answered = list(readers.ask_all())
    finally:
        connection.close()
        connection.settings_dict["PORT"] = port
    good = [asked for asked in answered if asked.status == 200]
    tell(
        report,
        "share of pages and API lists that a copy answered, as it is today",
        len(good) / len(answered) * 100,
        "%",
        f"{len(good)} of {len(answered)}",
    )
    for asked in answered:
        if asked not in good:
            report.note(f"not answered by a copy: {asked.name}: {asked.status}")


def _wait_for_sessions(replica: Cluster, connection: Any) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_current_wal_flush_lsn()::text")
        position = cursor.fetchone()[0]
    with _opened(replica) as reader:
        _wait(reader, position)
