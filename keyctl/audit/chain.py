"""The chain: each event takes its place as the last thing its transaction does.

Whoever appends holds the lock on the head until the commit. Because nothing is locked after it, two who
append never wait for each other in a circle; what was deferred to the commit takes its locks before.
"""

from collections.abc import Callable
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

from keyctl.audit.entries import BATCH, Entry, events_as_entries
from keyctl.audit.verifier import BEGINNING, entry_hash

Head = tuple[int, bytes]
Read = Callable[[BaseDatabaseWrapper, list[Any]], dict[int, Entry]]

HEAD = "SELECT number, hash FROM audit_head WHERE id = 1"
NEW_HEAD = "INSERT INTO audit_head (id, number, hash) VALUES (1, 0, %s) ON CONFLICT (id) DO NOTHING"
LINK = "INSERT INTO audit_link (number, event_id, before, hash) VALUES (%s, %s, %s, %s)"


def link_events(connection: BaseDatabaseWrapper, ids: list[Any], read: Read = events_as_entries) -> None:
    """Link those events that are still there: a savepoint may have taken some of them back."""
    wanted, head = sorted(set(ids)), None
    for start in range(0, len(wanted), BATCH):
        entries = read(connection, wanted[start : start + BATCH])
        if entries:
            head = _append(connection, head or _take_head(connection), entries)
    if head is not None:
        with connection.cursor() as cursor:
            cursor.execute("UPDATE audit_head SET number = %s, hash = %s WHERE id = 1", head)


def _append(connection: BaseDatabaseWrapper, head: Head, entries: dict[int, Entry]) -> Head:
    number, latest = head
    rows = []
    for pk, entry in entries.items():
        before, number = latest, number + 1
        latest = entry_hash(before, number, entry)
        rows.append((number, pk, before, latest))
    with connection.cursor() as cursor:
        cursor.executemany(LINK, rows)
    return number, latest


def _take_head(connection: BaseDatabaseWrapper) -> Head:
    # On SQLite whoever writes is alone anyway.
    lock = " FOR UPDATE" if connection.features.has_select_for_update else ""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute(HEAD + lock)
        number, latest = cursor.fetchone() or _new_head(cursor, lock)
    return number, bytes(latest)


def _new_head(cursor: Any, lock: str) -> Any:
    """Of two who find none, one makes it and the other waits; where it was lost, the last link tells it."""
    cursor.execute(NEW_HEAD, [BEGINNING])
    cursor.execute(HEAD + lock)
    head = cursor.fetchone()
    cursor.execute("SELECT number, hash FROM audit_link ORDER BY number DESC LIMIT 1")
    return cursor.fetchone() or head
