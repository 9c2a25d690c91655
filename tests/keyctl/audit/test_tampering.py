"""Five hundred edits behind the product's back, in SQLite's file itself: each is found."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from random import Random
from typing import Any

import pytest
from django.db import connection
from pytest_django import Settings

from keyctl.audit.chain import link_events
from keyctl.audit.checking import check_history
from tests.keyctl.audit.edits import EDITS, KINDS, Edit, Estate, Intruder, tell_something
from tests.keyctl.audit.files import open_file, using_file

IN_HASTE = (
    "PRAGMA ignore_check_constraints = ON; PRAGMA synchronous = OFF; PRAGMA journal_mode = MEMORY; BEGIN"
)
TRIGGERS = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="These edits are made in an SQLite file"),
]


class InFile(Intruder):
    """Has the file open, with all triggers dropped until they leave."""

    def __init__(self, estate: Estate, database: sqlite3.Connection, rng: Random) -> None:
        super().__init__(estate, rng, database.execute(TRIGGERS).fetchall())
        self.database = database

    def execute(self, sql: str, values: tuple[Any, ...]) -> Any:
        return self.database.execute(sql, values)

    def insert(self, sql: str, *values: Any) -> int:
        return int(self.database.execute(sql, values).lastrowid or 0)

    def link_anew(self, ids: list[int]) -> None:
        self.database.commit()
        with closing(open_file(self.estate.file)) as product:
            link_events(product, ids)

    def altered(self, trigger: str) -> str:
        return trigger.replace("RAISE(ABORT, ", "NULLIF(1, ")


@pytest.fixture
def sound(tmp_path: Path, settings: Settings, db: None) -> Estate:
    estate = Estate(tmp_path / "sound")
    estate.folder.mkdir()
    settings.CHECKPOINT_DIR = estate.folder / "checkpoints"
    with closing(sqlite3.connect(estate.file)) as empty:
        for sql in _schema():
            empty.execute(sql)
        empty.commit()
    with using_file(estate.file):
        tell_something(lambda _event: None)
        assert list(check_history()) == []
    return estate


def _schema() -> list[str]:
    """The tables of history as migrations leave them, and what they point at."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND name <> 'sqlite_sequence' "
            "AND (substr(tbl_name, 1, 6) = 'audit_' OR tbl_name = 'accounts_user') "
            "AND NOT (type = 'trigger' AND tbl_name = 'accounts_user') "
            "ORDER BY type = 'trigger', type <> 'table'"
        )
        return [sql for (sql,) in cursor.fetchall()]


def intrude(estate: Estate, kind: Edit, rng: Random) -> None:
    with closing(sqlite3.connect(estate.file)) as database:
        by = InFile(estate, database, rng)
        database.executescript(IN_HASTE)
        for name, _ in by.triggers:
            by.run(f"DROP TRIGGER {name}")
        kind(by)
        for _, sql in by.triggers:
            by.run(sql)
        database.commit()


def test_five_hundred_edits_are_all_found(sound: Estate, tmp_path: Path, settings: Settings) -> None:
    overlooked = []
    settings.CHECKPOINT_DIR = tmp_path / "edited" / "checkpoints"
    for seed in range(EDITS):
        kind, rng = KINDS[seed % len(KINDS)], Random(seed)
        estate = Estate(tmp_path / "edited")
        shutil.copytree(sound.folder, estate.folder)
        intrude(estate, kind, rng)
        with using_file(estate.file):
            if next(check_history(), None) is None:
                overlooked.append((seed, kind.__name__))
        shutil.rmtree(estate.folder)
    assert overlooked == []


def test_the_triggers_alone_are_no_edit(sound: Estate) -> None:
    """What the edits have in common is found by nobody: so it was the edits that were found."""
    intrude(sound, lambda _by: None, Random(0))
    with using_file(sound.file):
        assert list(check_history()) == []
