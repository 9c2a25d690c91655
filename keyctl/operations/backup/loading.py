"""From the lines of a backup into the tables of this program, all or nothing."""

import hashlib
import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from django.core.management.color import no_style
from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from keyctl.audit import guards, signing
from keyctl.audit.checkpoints import Checkpoint
from keyctl.feed import triggers
from keyctl.feed.services import begin_anew
from keyctl.lib.errors import Refused
from keyctl.operations.backup.dumping import FEW, Tally, signed_text
from keyctl.operations.backup.tables import Table, all_tables, kept_tables, own_migrations
from keyctl.operations.backup.values import (
    DAY,
    DECIMAL,
    IDENTIFIER,
    MOMENT,
    NUMBER,
    TEXT,
    TRUTH,
    Change,
    Kind,
)

AT_ONCE = 500
NOT_OURS = (
    "The backup was sealed with its key and does not say what a backup says. It was not made by keyctl."
)

# The other kinds go through their fields. Millions of values want no detour.
_PLAIN = {TEXT, NUMBER, TRUTH, IDENTIFIER, DAY}
TAKEN_AS_IT_IS = {"sqlite": _PLAIN, "postgresql": _PLAIN | {MOMENT, DECIMAL}}

Line = Any


@dataclass
class Contents:
    """What a backup said of itself, read to its end."""

    made_at: str = ""
    tables: dict[str, Tally] = field(default_factory=dict)
    checkpoints: list[Checkpoint] = field(default_factory=list)
    signed_by: str = ""

    @property
    def rows(self) -> int:
        return sum(tally.rows for tally in self.tables.values())


class Reader:
    """The lines one after the other, and the digest of all before the last."""

    def __init__(self, lines: Iterable[bytes]) -> None:
        self._lines = iter(lines)
        self._digest = hashlib.sha256()

    def next(self) -> tuple[Line, bytes]:
        line = next(self._lines, None)
        if line is None:
            raise Refused("The backup ends before its end. Take another copy or backup.")
        self.before = self._digest.digest()
        self._digest.update(line + b"\n")
        try:
            return json.loads(line), line
        except ValueError:
            raise Refused(NOT_OURS) from None

    def rows(self, table: Table, tally: Tally) -> Iterator[list[Any]]:
        """Up to the end of a table, which must count and say what came."""
        while True:
            found, line = self.next()
            if isinstance(found, dict):
                break
            tally.add(table, found, line)
            yield found
        if found != tally.as_fields():
            raise Refused(NOT_OURS)


@transaction.atomic
def load(connection: BaseDatabaseWrapper, lines: Iterable[bytes]) -> Contents:
    """Empty every table and fill it. The default database must be ``connection``."""
    with emptied(connection, all_tables()):
        return _load_all(connection, Reader(lines))


@contextmanager
def emptied(connection: BaseDatabaseWrapper, tables: Iterable[Table]) -> Iterator[None]:
    """Inside, those tables are empty and take any row; then numbers go on behind the rows that came, and the
    history is guarded again. Programs that read what changed begin anew."""
    guards.remove(connection)
    is_watched = bool(triggers.present(connection))
    triggers.remove(connection)
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            # Rows come by identifier and go all over the indexes: a small cache would be written out and out.
            cursor.execute("PRAGMA cache_size=-131072")
        for table in tables:
            cursor.execute(f"DELETE FROM {_quoted(connection, table.name)}")  # noqa: S608 (a table of ours)
    yield
    _set_counters(connection)
    guards.install(connection)
    if is_watched:
        begin_anew(connection)


def check_is_for_us(migrations: list[str]) -> None:
    """A backup goes back into the release that made it, and is migrated there."""
    own, theirs = set(own_migrations()), set(migrations)
    if own == theirs:
        return
    parts = [
        f"{words} {len(names)}, for instance {min(names)}"
        for words, names in (("here lack", theirs - own), ("the backup lacks", own - theirs))
        if names
    ]
    raise Refused(
        f"The backup was made with other tables. Of the migrations {'; '.join(parts)}. Restore it with the "
        "release of keyctl that made it, then update and run `manage.py migrate`."
    )


def _load_all(connection: BaseDatabaseWrapper, reader: Reader) -> Contents:
    first, _ = reader.next()
    if not isinstance(first, dict) or first.get("backup") != 1:
        raise Refused(NOT_OURS)
    check_is_for_us(first["migrations"])
    contents, known = Contents(made_at=first["made_at"]), {table.name: table for table in kept_tables()}
    while "end" not in (found := reader.next()[0]):
        if "checkpoint" in found:
            contents.checkpoints.append(found["checkpoint"])
            continue
        table = known.pop(found.get("table"), None)
        if table is None or found["columns"] != table.columns:
            raise Refused(NOT_OURS)
        contents.tables[table.name] = _load_table(connection, table, reader)
    if known:
        raise Refused(NOT_OURS)
    contents.signed_by = _signer(found, reader.before)
    return contents


def _signer(end: dict[str, str], digest: bytes) -> str:
    key, signature = bytes.fromhex(end["signed_by"]), bytes.fromhex(end["signature"])
    if end["end"] == digest.hex() and not key and not signature:
        return ""
    if end["end"] != digest.hex() or not signing.is_signed(key, signed_text(digest), signature):
        raise Refused("The signature of the backup is wrong: it is not as keyctl wrote it.")
    return end["signed_by"]


def _load_table(connection: BaseDatabaseWrapper, table: Table, reader: Reader) -> Tally:
    tally = Tally()
    insert_rows(connection, table, reader.rows(table, tally))
    return tally


def insert_rows(connection: BaseDatabaseWrapper, table: Table, found: Iterable[list[Any]]) -> None:
    """Rows as they stand in a file, some hundred in memory at a time; few where one may be a photo."""
    changes, at_once = _changes(connection, table), FEW if table.has_bytes else AT_ONCE
    rows = (_changed(row, changes) for row in found)
    columns = ", ".join(_quoted(connection, name) for name in table.names)
    marks = ", ".join(["%s"] * len(table.fields))
    into = f"INSERT INTO {_quoted(connection, table.name)} ({columns}) VALUES ({marks})"  # noqa: S608
    with connection.cursor() as cursor:
        while batch := list(islice(rows, at_once)):
            cursor.executemany(into, batch)


def _changes(connection: BaseDatabaseWrapper, table: Table) -> list[tuple[int, Change]]:
    """For the columns of which the database does not take what stands in the file."""
    as_it_is = TAKEN_AS_IT_IS[connection.vendor]
    kinds = enumerate(zip(table.fields, table.kinds, strict=True))
    return [(at, _change(connection, own, kind)) for at, (own, kind) in kinds if kind not in as_it_is]


def _change(connection: BaseDatabaseWrapper, own: Any, kind: Kind) -> Change:
    read = kind.read or (lambda value: value)
    return lambda value: own.get_db_prep_save(read(value), connection)


def _changed(row: list[Any], changes: list[tuple[int, Change]]) -> list[Any]:
    for at, change in changes:
        if row[at] is not None:
            row[at] = change(row[at])
    return row


def _set_counters(connection: BaseDatabaseWrapper) -> None:
    models = [table.model for table in all_tables()]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # Now, and not at the end: triggers come to no table that has checks to do.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for statement in connection.ops.sequence_reset_sql(no_style(), models):
            cursor.execute(statement)


def _quoted(connection: BaseDatabaseWrapper, name: str) -> str:
    return connection.ops.quote_name(name)
