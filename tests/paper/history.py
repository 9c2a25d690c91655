"""History by site and year: the events and what they name in partitions, beside the same rows in one
table each.

The partitioned tables have the columns of the real ones; what they name gains the site and the moment,
since a partition is chosen by them and every unique index must hold them.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass

from django.db import Error, transaction

from keyctl.audit.guards import FUNCTIONS
from tests.bench.report import Report, best_of
from tests.paper.estate import SITES, YEARS
from tests.paper.filling import run
from tests.paper.pages import DOOR, pk
from tests.paper.telling import tell

FIRST_YEAR = 2022
TAKEN, ROW_BY_ROW = 200_000, 20_000
PAGE = 25
# What belongs to no site has one of its own: in a unique index no site would be unlike any other.
NO_SITE = "00000000-0000-0000-0000-000000000000"

EVENT = (
    "id bigint, at timestamptz NOT NULL, actor_id uuid, actor_name varchar(120) NOT NULL, "
    "site_id uuid NOT NULL, verb varchar(60) NOT NULL, sentence varchar(400) NOT NULL, "
    "detail jsonb NOT NULL, request varchar(64)"
)
SUBJECT = (
    "event_id bigint NOT NULL, kind varchar(60) NOT NULL, subject_id uuid NOT NULL, "
    "site_id uuid NOT NULL, at timestamptz NOT NULL"
)
EVENTS = (
    "SELECT id, at, actor_id, actor_name, site_id, verb, sentence, detail, request FROM audit_event "
    "WHERE id BETWEEN %s AND %s"
)
SUBJECTS = (
    "SELECT s.event_id, s.kind, s.subject_id, e.site_id, e.at FROM audit_eventsubject s "
    "JOIN audit_event e ON e.id = s.event_id WHERE e.id BETWEEN %s AND %s"
)
INDEXES = {
    "event": (
        "UNIQUE (id, site_id, at)",
        "INDEX (site_id, at DESC)",
        "INDEX (verb, at DESC)",
        "INDEX (actor_id)",
    ),
    "subject": (
        "UNIQUE (event_id, kind, subject_id, site_id, at)",
        "INDEX (kind, subject_id, event_id DESC)",
    ),
}


@dataclass(frozen=True)
class Way:
    name: str
    prefix: str
    partitioned: bool

    def table(self, what: str) -> str:
        return f"{self.prefix}_{what}"

    def make(self) -> None:
        for what, columns in (("event", EVENT), ("subject", SUBJECT)):
            by = " PARTITION BY LIST (site_id)" if self.partitioned else ""
            run(f"CREATE TABLE {self.table(what)} ({columns}){by}")
            if self.partitioned:
                _partitions(self.table(what))
            for index in INDEXES[what]:
                kind, columns_of = index.split(" ", 1)
                unique = "UNIQUE " if kind == "UNIQUE" else ""
                run(f"CREATE {unique}INDEX ON {self.table(what)} {columns_of}")

    def write(self, first: int, last: int) -> None:
        run(f"INSERT INTO {self.table('event')} {EVENTS}", [first, last])
        run(f"INSERT INTO {self.table('subject')} {SUBJECTS}", [first, last])


PLAIN, PARTS = (
    Way("one table", "paper_plain", partitioned=False),
    Way("by site and year", "paper_parts", partitioned=True),
)


def _partitions(table: str) -> None:
    for nth in range(SITES):
        of_site = f"{table}_s{nth}"
        run(
            f"CREATE TABLE {of_site} PARTITION OF {table} FOR VALUES IN ('{pk('site', nth)}') "
            "PARTITION BY RANGE (at)"
        )
        for year in range(FIRST_YEAR, FIRST_YEAR + YEARS):
            span = f"FROM ('{year}-01-01 00:00+00') TO ('{year + 1}-01-01 00:00+00')"
            run(f"CREATE TABLE {of_site}_{year} PARTITION OF {of_site} FOR VALUES {span}")
    run(f"CREATE TABLE {table}_house PARTITION OF {table} FOR VALUES IN ('{NO_SITE}')")


def measure(report: Report, events: int) -> None:
    """The real events up to this number."""
    for way in (PLAIN, PARTS):
        way.make()
        seconds = _write_all(way, events - ROW_BY_ROW)
        tell(
            report,
            f"history, {way.name}: written by the row of numbers",
            (events - ROW_BY_ROW) / seconds,
            "events/s",
        )
        seconds = _row_by_row(way, events - ROW_BY_ROW + 1, events)
        tell(
            report,
            f"history, {way.name}: written one by one with two subjects each",
            ROW_BY_ROW / seconds,
            "events/s",
        )
    run("VACUUM ANALYZE")
    _pages(report)
    _year(report, events)
    _guards(report)
    _refused(report)


def _write_all(way: Way, last: int) -> float:
    began = time.perf_counter()
    for first in range(1, last + 1, TAKEN):
        way.write(first, min(first + TAKEN - 1, last))
    return time.perf_counter() - began


def _row_by_row(way: Way, first: int, last: int) -> float:
    """Each in a statement of its own, inside the server: what the tables cost, without the network."""
    one = EVENTS.replace("BETWEEN %s AND %s", "= nth"), SUBJECTS.replace("BETWEEN %s AND %s", "= nth")
    each = f"INSERT INTO {way.table('event')} {one[0]}; INSERT INTO {way.table('subject')} {one[1]};"
    began = time.perf_counter()
    run(f"DO $$ BEGIN FOR nth IN {first}..{last} LOOP {each} END LOOP; END $$")
    return time.perf_counter() - began


def _pages(report: Report) -> None:
    """The newest entries about a core, as ``audit.selectors.history_of`` asks for them."""
    named = f"s.kind = 'cores.core' AND s.subject_id = '{pk('core', DOOR)}'"
    site = f" AND s.site_id = '{pk('site', 0)}'"
    this_year = f" AND s.at >= '{FIRST_YEAR + YEARS - 1}-01-01'"
    for way, what, narrowed in (
        (PLAIN, "a core's page", ""),
        (PARTS, "a core's page, wherever it was", ""),
        (PARTS, "a core's page, its site", site),
        (PARTS, "a core's page, its site and this year", site + this_year),
    ):
        join = "e.id = s.event_id" + (" AND e.site_id = s.site_id AND e.at = s.at" if way.partitioned else "")
        tables = f"{way.table('subject')} s JOIN {way.table('event')} e ON {join}"
        sql = f"SELECT e.* FROM {tables} WHERE {named}{narrowed} ORDER BY e.id DESC LIMIT {PAGE}"  # noqa: S608
        seconds, rows = best_of(5, lambda sql=sql: run(sql))  # type: ignore[misc]
        assert rows
        tell(report, f"history, {way.name}: {what}", seconds * 1e3, "ms", f"{len(rows)} entries")


def _year(report: Report, events: int) -> None:
    """A site's year read, and the oldest year of all sites taken out."""
    of_year = f"at >= '{FIRST_YEAR}-01-01 00:00+00' AND at < '{FIRST_YEAR + 1}-01-01 00:00+00'"
    for way in (PLAIN, PARTS):
        sql = f"SELECT count(*), sum(length(sentence)) FROM {way.table('event')} WHERE {of_year}"  # noqa: S608
        seconds, rows = best_of(3, lambda sql=sql: run(sql))  # type: ignore[misc]
        tell(
            report,
            f"history, {way.name}: a year of all sites read",
            seconds * 1e3,
            "ms",
            f"{rows[0][0]:,} of {events:,} entries",
        )
    _told(report, "history, one table: a year taken out by DELETE", _delete_year(of_year))
    _told(report, "history, by site and year: a year taken out by DETACH", _detach_year)


def _told(report: Report, name: str, work: Callable[[], None]) -> None:
    seconds, _ = best_of(1, lambda: _done(work))
    tell(report, name, seconds, "s")


def _done(work: Callable[[], None]) -> bool:
    work()
    return True


def _delete_year(of_year: str) -> Callable[[], None]:
    def work() -> None:
        run(f"DELETE FROM {PLAIN.table('subject')} WHERE {of_year}")  # noqa: S608
        run(f"DELETE FROM {PLAIN.table('event')} WHERE {of_year}")  # noqa: S608
        run(f"VACUUM {PLAIN.table('subject')}, {PLAIN.table('event')}")

    return work


def _detach_year() -> None:
    for what in ("subject", "event"):
        for nth in range(SITES):
            of_site = f"{PARTS.table(what)}_s{nth}"
            run(f"ALTER TABLE {of_site} DETACH PARTITION {of_site}_{FIRST_YEAR}")


def _guards(report: Report) -> None:
    """Which of the triggers that keep history reach the partitions when they are made on the table above."""
    run(
        "CREATE FUNCTION paper_refuses() RETURNS trigger LANGUAGE plpgsql "
        f"AS $${FUNCTIONS['history_refuses']}$$"
    )
    table, leaf = PARTS.table("event"), f"{PARTS.table('event')}_s0_{FIRST_YEAR + 1}"
    run(
        f"CREATE TRIGGER paper_rows BEFORE DELETE OR UPDATE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION paper_refuses()"
    )
    run(
        f"CREATE TRIGGER paper_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION paper_refuses()"
    )
    run(f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER paper_rows")
    for what, sql in (
        ("DELETE in a partition", f"DELETE FROM {leaf}"),  # noqa: S608
        ("TRUNCATE of the whole table", f"TRUNCATE {table}"),
        ("TRUNCATE of a partition by its name", f"TRUNCATE {leaf}"),
        ("DETACH of a partition", f"ALTER TABLE {table}_s0 DETACH PARTITION {leaf}"),
    ):
        report.note(f"history by site and year, triggers on the table above: {what}: {_outcome(sql)}")
    always = run(
        "SELECT tgenabled FROM pg_trigger WHERE tgrelid = %s::regclass AND tgname = 'paper_rows'", [leaf]
    )
    report.note(
        f"history by site and year: the trigger of a partition fires {always[0][0]!r} ('A' is always)"
    )


def _refused(report: Report) -> None:
    """Unique rules of today that no longer hold over all partitions."""
    for what, sql in (
        ("number of an event alone", f"CREATE UNIQUE INDEX ON {PARTS.table('event')} (id)"),
        (
            "subject of an event without site and moment",
            f"CREATE UNIQUE INDEX ON {PARTS.table('subject')} (event_id, kind, subject_id)",
        ),
    ):
        report.note(f"history by site and year, unique {what}: {_outcome(sql)}")


def _outcome(sql: str) -> str:
    """Tried and taken back."""
    try:
        with transaction.atomic():
            run(sql)
            transaction.set_rollback(True)
    except Error as error:
        return f"refused: {str(error).splitlines()[0]}"
    return "let through"
