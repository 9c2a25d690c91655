"""A database as a release left it, to stand on; what is in it, and how it is made."""

import json
import os
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import ConnectionHandler
from pytest_django import Settings

from keyctl.lib import database
from keyctl.operations.backup.snapshot import standing_on
from tests.releases import KEPT, postgresql_shape, sqlite_shape
from tests.releases.dumping import read_dump

Row = tuple[tuple[str, str], ...]
Rows = dict[str, "Counter[Row]"]
# By kind of thing, each in words.
Shape = dict[str, set[str]]
QUICK = "PRAGMA synchronous=OFF;"


@contextmanager
def released_database(version: str, folder: Path) -> Iterator[BaseDatabaseWrapper]:
    """As it was, on the database that the tests run on; inside, it is this thread's default one."""
    own = connections["default"]
    made = _on_postgresql(own, version) if own.vendor == "postgresql" else _on_sqlite(version, folder)
    with made as found, standing_on(found):
        yield found


@contextmanager
def _on_sqlite(version: str, folder: Path) -> Iterator[BaseDatabaseWrapper]:
    wanted = database.sqlite(folder / "keyctl.sqlite3")
    wanted["OPTIONS"]["init_command"] += QUICK
    found = ConnectionHandler({"default": wanted})["default"]
    found.ensure_connection()
    found.connection.execute("PRAGMA foreign_keys=OFF")
    found.connection.executescript(read_dump(KEPT / version, "sqlite"))
    found.close()
    try:
        yield found
    finally:
        found.close()


@contextmanager
def _on_postgresql(own: Any, version: str) -> Iterator[BaseDatabaseWrapper]:
    # Each process of the tests has its own.
    name = f"released_{os.getpid()}"
    _tell_server(own, f"CREATE DATABASE {name}")
    found = ConnectionHandler({"default": own.settings_dict | {"NAME": name}})["default"]
    try:
        with found.cursor() as cursor:
            cursor.execute(read_dump(KEPT / version, "postgresql"))
        # Its settings end with the connection.
        found.close()
        yield found
    finally:
        found.close()
        _tell_server(own, f"DROP DATABASE {name} WITH (FORCE)")


def _tell_server(own: Any, statement: str) -> None:
    with own._nodb_cursor() as cursor:
        cursor.execute(statement)


def take_signatures(version: str, vendor: str, settings: Settings, folder: Path) -> None:
    """The checkpoints of that installation and the key that signed them, where it had any."""
    settings.CHECKPOINT_DIR = folder / "checkpoints"
    settings.HISTORY_KEY_FILE = folder / "history.key"
    kept = KEPT / version / f"{vendor}.history.json"
    if kept.exists():
        told = json.loads(kept.read_text())
        settings.HISTORY_KEY_FILE.write_text(told["key"])
        settings.CHECKPOINT_DIR.mkdir()
        for each in told["checkpoints"]:
            file = settings.CHECKPOINT_DIR / f"{each['size']:012}.json"
            file.write_text(json.dumps(each, indent=1), encoding="utf-8")


def every_row(connection: BaseDatabaseWrapper) -> Rows:
    """By table; each row as its columns with their values, and how often it is there."""
    found: Rows = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')  # noqa: S608 (a table of ours)
            names = [column[0] for column in cursor.description]
            found[table] = Counter(
                tuple(sorted((name, _plain(value)) for name, value in zip(names, row, strict=True)))
                for row in cursor
            )
    return found


def _plain(value: Any) -> str:
    if isinstance(value, memoryview):
        return bytes(value).hex()
    return json.dumps(value, sort_keys=True) if isinstance(value, dict | list) else repr(value)


def lost(before: Rows, after: Rows) -> dict[str, list[str]]:
    """By table: the columns of rows that are gone or say something else."""
    found = {}
    for table, rows in before.items():
        if table not in after:
            found[table] = ["the table"]
        elif missing := rows - _narrowed(after[table], rows):
            found[table] = _which(missing, rows, after[table])
    return found


def _narrowed(after: "Counter[Row]", before: "Counter[Row]") -> "Counter[Row]":
    """Without the columns that came."""
    names = {name for row in before for name, _ in row}
    narrowed: Counter[Row] = Counter()
    for row, times in after.items():
        narrowed[tuple(each for each in row if each[0] in names)] += times
    return narrowed


def _which(missing: "Counter[Row]", before: "Counter[Row]", after: "Counter[Row]") -> list[str]:
    """The columns of which some value is no longer there; the whole row where that tells nothing."""
    there = {each for row in after for each in row}
    return sorted({name for row in missing for name, value in row if (name, value) not in there}) or ["a row"]


def how_it_is_made(connection: BaseDatabaseWrapper) -> Shape:
    """Columns, constraints, indexes and triggers of every table, in words that can be compared."""
    is_on_server = connection.vendor == "postgresql"
    return postgresql_shape.told(connection) if is_on_server else sqlite_shape.told(connection)
