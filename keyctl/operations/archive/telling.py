"""The lines of an archive, of one moment, and the canonical form among them.

    {"estate": 1, "migrations": [...]}
    {"digest_key": "…"}                       by which keyed digests are found
    {"history_key": "…", "made_at": …}        that signs the history; null where it lay elsewhere
    {"table": "cores_core", "columns": [["id", "identifier"], ["pinning", "sealed"], ...]}
    ["0b1c…", "AAEC…", ...]                   a row by its identifier
    {"rows": 812}                             the end of a table
    {"checkpoint": {...}}                     signed checkpoints of the history
    {"end": "…"}                              SHA-256 of the canonical lines

Canonical is what two installations that hold the same estate say alike, byte for byte: not when the archive
was made, nor the entries at the end of the history that tell of archives themselves.
"""

import base64
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import connections
from django.utils import timezone

from keyctl.audit import signing
from keyctl.audit.verifier import read_checkpoints
from keyctl.lib.errors import Refused
from keyctl.operations.archive.contents import Carried, carried_tables
from keyctl.operations.backup.dumping import as_sorted_line
from keyctl.operations.backup.snapshot import SNAPSHOT, snapshot
from keyctl.operations.backup.tables import applied_migrations, own_migrations
from keyctl.vault import ring

VERSION = 1
# What the history says of archives. At its end it is no part of the estate.
EXPORTED, IMPORTED, FETCHED = "archive.exported", "archive.imported", "archive.fetched"
OWN_VERBS = (EXPORTED, IMPORTED, FETCHED)
NEWEST = """
    SELECT l.number, l.event_id, e.verb FROM audit_link l JOIN audit_event e ON e.id = l.event_id
    ORDER BY l.number DESC
"""

Line = tuple[bytes, bool]
Step = Callable[[int, str], None]


class Canon:
    """SHA-256 over canonical lines."""

    def __init__(self) -> None:
        self._digest = hashlib.sha256()

    def add(self, line: bytes) -> None:
        self._digest.update(line + b"\n")

    @property
    def digest(self) -> str:
        return self._digest.hexdigest()


@dataclass(frozen=True)
class Ending:
    """The last entry of the history that is not about archives, and the events behind it."""

    size: int
    numbers: frozenset[int]
    events: frozenset[int]

    def is_canonical(self, carried: Carried, row: list[Any]) -> bool:
        """The head follows from the last link, so it tells nothing of its own."""
        if carried.table.name == "audit_head":
            return False
        column, behind = self._behind(carried.table.name)
        return not behind or row[carried.table.names.index(column)] not in behind

    def _behind(self, table: str) -> tuple[str, frozenset[int]]:
        """Which column names an entry or event, and those behind the ending."""
        return {
            "audit_event": ("id", self.events),
            "audit_eventsubject": ("event_id", self.events),
            "audit_link": ("number", self.numbers),
        }.get(table, ("", frozenset()))


def canonical_digest(using: str | None = None) -> str:
    """Of this installation now. The open lines live in memory only, one at a time."""
    canon = Canon()
    for line, is_canonical in lines_of(using) if using else lines_of_snapshot():
        if is_canonical:
            canon.add(line)
    return canon.digest


def lines_of_snapshot(step: Step | None = None) -> Iterator[Line]:
    with snapshot():
        yield from lines_of(SNAPSHOT, step)


def lines_of(using: str, step: Step | None = None) -> Iterator[Line]:
    """Each line but the last, and whether it is canonical."""
    refuse_other_tables(using)
    ending = ending_of(using)
    yield as_sorted_line({"estate": VERSION, "migrations": own_migrations()}), True
    yield as_sorted_line({"digest_key": _text(ring.digest_key())}), True
    yield as_sorted_line({"history_key": history_key(), "made_at": timezone.now().isoformat()}), False
    done = 0
    for carried in carried_tables():
        yield as_sorted_line({"table": carried.table.name, "columns": carried.columns}), True
        count = 0
        for count, row in enumerate(carried.rows(using), 1):
            yield as_sorted_line(row), ending.is_canonical(carried, row)
            if step and count % 1000 == 0:
                step(done + count, carried.table.name)
        done += count
        yield as_sorted_line({"rows": count}), False
    for each in _checkpoints(ending.size + len(ending.numbers)):
        yield as_sorted_line({"checkpoint": each}), each["size"] <= ending.size


def ending_of(using: str) -> Ending:
    numbers, events, size = set[int](), set[int](), 0
    with connections[using].cursor() as cursor:
        cursor.execute(NEWEST)
        while found := cursor.fetchone():
            size, event, verb = found
            if verb not in OWN_VERBS:
                return Ending(size, frozenset(numbers), frozenset(events))
            numbers.add(size)
            events.add(event)
    return Ending(0, frozenset(numbers), frozenset(events))


def refuse_other_tables(using: str) -> None:
    if applied_migrations(connections[using]) != own_migrations():
        raise Refused("The tables here are not those of this program. Run `manage.py migrate` first.")


def history_key() -> str | None:
    """The key that signs the history goes along: without it nothing goes on from what was signed."""
    if not signing.has_key():
        return None
    return settings.HISTORY_KEY_FILE.read_text(encoding="ascii").strip()


def _checkpoints(last: int) -> list[dict[str, Any]]:
    if not settings.CHECKPOINT_DIR.is_dir():
        return []
    return [each for each in read_checkpoints(str(settings.CHECKPOINT_DIR)) if each["size"] <= last]


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode()
