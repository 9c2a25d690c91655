"""Five hundred edits behind the product's back on PostgreSQL, by who owns the database: each is found."""

import shutil
from pathlib import Path
from random import Random
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from pytest_django import Settings

from keyctl.audit import guards
from keyctl.audit.chain import link_events
from keyctl.audit.checking import check_history
from tests.keyctl.audit.edits import EDITS, KINDS, Estate, Intruder, tell_something

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite's file has its own test"),
]

# What an owner drops first: keys to other tables, and conditions.
CONSTRAINTS = """
    SELECT conrelid::regclass::text, conname FROM pg_constraint
    WHERE starts_with(conrelid::regclass::text, 'audit_') AND contype IN ('f', 'c', 'u')
"""


class Owner(Intruder):
    def __init__(self, estate: Estate, rng: Random) -> None:
        wanted = guards.wanted(transaction.get_connection())
        super().__init__(estate, rng, [(name, text) for name, (_, text) in wanted.items()])
        self.tables = {name: table for name, (table, _) in wanted.items()}
        self.cursor = connection.cursor()

    def execute(self, sql: str, values: tuple[Any, ...]) -> Any:
        self.cursor.execute(sql.replace("?", "%s"), values)
        return self.cursor

    def insert(self, sql: str, *values: Any) -> int:
        return int(self.execute(f"{sql} RETURNING id", values).fetchone()[0])

    def link_anew(self, ids: list[int]) -> None:
        link_events(transaction.get_connection(), ids)

    def altered(self, trigger: str) -> str:
        return trigger.replace("BEFORE", "AFTER")

    def leave(self) -> None:
        for name, text in self.triggers:
            self.execute(text, ())
            self.execute(f"ALTER TABLE {self.tables[name]} ENABLE ALWAYS TRIGGER {name}", ())


def drop_triggers() -> None:
    with connection.cursor() as cursor:
        for name, (table, _) in guards.wanted(transaction.get_connection()).items():
            cursor.execute(f"DROP TRIGGER {name} ON {table}")


@pytest.fixture
def sound(settings: Settings, tmp_path: Path, db: None) -> Estate:
    settings.CHECKPOINT_DIR = tmp_path / "edited" / "checkpoints"
    tell_something(lambda event: link_events(transaction.get_connection(), [event.pk]))
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute(CONSTRAINTS)
        for table, name in cursor.fetchall():
            cursor.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"')
    assert list(check_history()) == []
    shutil.copytree(tmp_path / "edited", tmp_path / "sound")
    return Estate(tmp_path / "edited")


def is_found(estate: Estate, seed: int) -> bool | None:
    """None where the database itself took no such value: that was no edit."""
    mark = transaction.savepoint()
    try:
        drop_triggers()
        by = Owner(estate, Random(seed))
        KINDS[seed % len(KINDS)](by)
        by.leave()
        return next(check_history(), None) is not None
    except DatabaseError:
        return None
    finally:
        transaction.savepoint_rollback(mark)
        shutil.rmtree(estate.folder)
        shutil.copytree(estate.folder.with_name("sound"), estate.folder)


def test_five_hundred_edits_are_all_found(sound: Estate) -> None:
    made, kinds, overlooked, seed = 0, set(), [], 0
    while made < EDITS:
        found = is_found(sound, seed)
        if found is not None:
            made += 1
            kinds.add(KINDS[seed % len(KINDS)])
        if found is False:
            overlooked.append((seed, KINDS[seed % len(KINDS)].__name__))
        seed += 1
    assert overlooked == []
    assert kinds == set(KINDS)
    assert seed < 1.3 * EDITS


def test_the_triggers_alone_are_no_edit(sound: Estate) -> None:
    drop_triggers()
    Owner(sound, Random(0)).leave()
    assert list(check_history()) == []
