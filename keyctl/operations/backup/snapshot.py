"""One moment of the database, read while people go on working, and a database of our own to try it in.

SQLite in WAL mode gives every read transaction the state at its first question and lets writers write on;
PostgreSQL does so at REPEATABLE READ. So a backup locks nobody out, holds no gate and copies no file.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import ConnectionHandler

from keyctl.audit import guards
from keyctl.lib import database
from keyctl.operations.backup.tables import all_tables, note_all_migrations
from keyctl.vault import ring

SNAPSHOT = "snapshot"
# Written once, read by one, and thrown away: nothing waits for the disk, and nothing is written twice.
ALONE = "PRAGMA journal_mode=MEMORY;PRAGMA synchronous=OFF;PRAGMA cache_size=-131072;"
QUICK = "PRAGMA synchronous=OFF;"


@contextmanager
def snapshot() -> Iterator[BaseDatabaseWrapper]:
    """A second connection inside one transaction that only reads; the alias `snapshot` stands for it."""
    other = connections["default"].copy(SNAPSHOT)
    if other.vendor == "sqlite":
        other.settings_dict["OPTIONS"]["transaction_mode"] = "DEFERRED"
    connections[SNAPSHOT] = other
    try:
        with transaction.atomic(using=SNAPSHOT):
            _begin(other)
            yield other
    finally:
        other.close()
        del connections[SNAPSHOT]


def _begin(connection: BaseDatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        # The first question is what fixes the moment.
        cursor.execute("SELECT count(*) FROM audit_head")


@contextmanager
def scratch_database(folder: Path, *, is_alone: bool = False) -> Iterator[BaseDatabaseWrapper]:
    """A new SQLite database with every table; inside, it is the default one of this thread. ``is_alone``: no
    other connection will ever be made to it."""
    scratch = _connected(folder / "keyctl.sqlite3", ALONE if is_alone else QUICK)
    try:
        _make_tables(scratch)
        with standing_on(scratch):
            note_all_migrations(scratch)
            yield scratch
    finally:
        scratch.close()


def _connected(file: Path, pragmas: str) -> BaseDatabaseWrapper:
    wanted = database.sqlite(file)
    wanted["OPTIONS"]["init_command"] += pragmas
    return ConnectionHandler({"default": wanted})["default"]


def _make_tables(connection: BaseDatabaseWrapper) -> None:
    """From the models: `tests/test_migrations.py` holds the migrations against them."""
    auto = {through for table in all_tables() for through in _made_along(table.model)}
    with connection.schema_editor() as editor:
        for table in all_tables():
            if table.model not in auto:
                editor.create_model(table.model)
    guards.install(connection)


def _made_along(model: Any) -> list[Any]:
    """Tables of many to many that come with their model."""
    through = [field.remote_field.through for field in model._meta.local_many_to_many]
    return [each for each in through if each._meta.auto_created]


@contextmanager
def standing_on(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """This thread's default database is another one for a while; other threads keep theirs."""
    own = connections["default"]
    connections["default"] = connection
    ring.forget()
    try:
        yield
    finally:
        connections["default"] = own
        ring.forget()
