"""What the database says, asked past the product: own statements on an own connection."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

from tests.faults.hands import Spot

CORES = "SELECT tag, place, housing_id, version FROM cores_core"
# Each finds rows, or counts, that must not be.
NEVER = {
    "two cores in one housing": (
        "SELECT housing_id FROM cores_core WHERE housing_id IS NOT NULL "
        "GROUP BY housing_id HAVING count(*) > 1"
    ),
    "a core in a place that is none": (
        "SELECT tag FROM cores_core WHERE (place = 'housing') <> (housing_id IS NOT NULL) "
        "OR (place = 'case') <> (carrier_id IS NOT NULL)"
    ),
    "a core without its site": (
        "SELECT tag FROM cores_core c WHERE NOT EXISTS (SELECT 1 FROM places_site s WHERE s.id = c.site_id)"
    ),
    "an event that is not in the chain": (
        "SELECT id FROM audit_event e WHERE NOT EXISTS (SELECT 1 FROM audit_link l WHERE l.event_id = e.id)"
    ),
    "an entry that does not follow": (
        "SELECT l.number FROM audit_link l LEFT JOIN audit_link b ON b.number = l.number - 1 "
        "WHERE l.number > 1 AND (b.number IS NULL OR b.hash <> l.before)"
    ),
    "a head that is not the last entry": (
        "SELECT h.number FROM audit_head h LEFT JOIN audit_link l ON l.number = h.number "
        "WHERE l.hash IS NULL OR l.hash <> h.hash OR h.number <> (SELECT count(*) FROM audit_link)"
    ),
    "an event of a swap that has no subject": (
        "SELECT id FROM audit_event e WHERE verb IN ('core.swapped', 'core.moved') "
        "AND NOT EXISTS (SELECT 1 FROM audit_eventsubject s WHERE s.event_id = e.id)"
    ),
}
SWAPS = "SELECT count(*) FROM audit_event WHERE verb = 'core.swapped'"
MOVES = "SELECT count(*) FROM audit_event WHERE verb = 'core.moved'"
TOLD = "SELECT count(*) FROM field_fieldevent WHERE kind = 'swapped' AND outcome = 'applied'"
OTHERS = "SELECT count(*) FROM field_fieldevent WHERE outcome <> 'applied'"


@dataclass(frozen=True)
class Seen:
    spots: dict[str, Spot]
    faults: list[str]
    swaps: int
    moves: int


class Look:
    """One connection, for as long as the looks of one moment take."""

    def __init__(self, cursor: Any, is_sqlite: bool) -> None:
        self._cursor, self._is_sqlite = cursor, is_sqlite

    def rows(self, sql: str) -> list[Any]:
        self._cursor.execute(sql)
        return list(self._cursor.fetchall())

    def number(self, sql: str) -> int:
        return int(self.rows(sql)[0][0])

    def seen(self) -> Seen:
        swaps, told, others = (self.number(sql) for sql in (SWAPS, TOLD, OTHERS))
        faults = [f"{name}: {rows[:5]}" for name, sql in NEVER.items() if (rows := self.rows(sql))]
        if swaps != told or others:
            faults.append(f"{told} swaps were told, {swaps} are in history, {others} are disputed")
        faults += self._file_faults() if self._is_sqlite else []
        return Seen(dict(self._spots()), faults, swaps, self.number(MOVES))

    def _spots(self) -> Iterator[tuple[str, Spot]]:
        for tag, place, housing, version in self.rows(CORES):
            yield tag, (UUID(str(housing)).hex if housing else place, version)

    def _file_faults(self) -> Iterator[str]:
        for (word,) in self.rows("PRAGMA integrity_check"):
            if word != "ok":
                yield f"integrity_check: {word}"
        for row in self.rows("PRAGMA foreign_key_check"):
            yield f"foreign_key_check: {row}"


@contextmanager
def looking_at(database: Path, url: str) -> Iterator[Look]:
    """The file, or the server where an address names one."""
    connection = _connect(database, url)
    try:
        yield Look(connection.cursor(), not url)
    finally:
        connection.close()


def _connect(database: Path, url: str) -> Any:
    if url:
        import psycopg

        return psycopg.connect(url, autocommit=True)
    # The machine's own library may have the fault that the product's has not.
    from pysqlite3 import dbapi2

    return dbapi2.connect(database, timeout=20, isolation_level=None)
