"""The triggers that migrations leave behind refuse every way of changing history, on both databases."""

from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, IntegrityError, connection, transaction
from pytest_django import Settings

from keyctl.audit import guards
from keyctl.audit.chain import link_events
from keyctl.audit.models import Event
from keyctl.audit.services import record
from tests.cast import Cast
from tests.keyctl.audit.files import using_file

pytestmark = pytest.mark.django_db

on_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL has no REPLACE")
on_postgresql = pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite has no TRUNCATE")

TABLES = ["audit_event", "audit_eventsubject", "audit_link", "audit_head"]
CHANGES = {
    "audit_event": "UPDATE audit_event SET sentence = 'did nothing'",
    "audit_eventsubject": "UPDATE audit_eventsubject SET kind = 'x'",
    "audit_link": "UPDATE audit_link SET number = number + 1",
    "audit_head": "UPDATE audit_head SET number = 0",
}
REPLACED = [
    "INSERT OR REPLACE INTO audit_event SELECT * FROM audit_event",
    "INSERT OR REPLACE INTO audit_eventsubject SELECT * FROM audit_eventsubject",
    "INSERT OR REPLACE INTO audit_eventsubject (event_id, kind, subject_id) "
    "SELECT event_id, kind, subject_id FROM audit_eventsubject",
    "INSERT OR REPLACE INTO audit_link SELECT * FROM audit_link",
    "INSERT OR REPLACE INTO audit_link (number, event_id, before, hash) "
    "SELECT number + 1, event_id, before, hash FROM audit_link",
    "INSERT OR REPLACE INTO audit_head SELECT * FROM audit_head",
]


@pytest.fixture
def event(cast: Cast) -> Event:
    """One in the chain, as after a commit."""
    found = record(actor=cast.locksmith, verb="a.b", sentence="did something", subjects=[cast.north])
    link_events(transaction.get_connection(), [found.pk])
    return found


def run(statement: str) -> Any:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.rowcount


def test_there_are_as_many_as_ways_to_change_history() -> None:
    assert list(guards.guard_findings(transaction.get_connection())) == []
    names = guards.present(transaction.get_connection())
    assert len(names) == (12 if connection.vendor == "sqlite" else 10)


@on_sqlite
def test_migrations_leave_them_behind(tmp_path: Path, settings: Settings) -> None:
    """In a file of its own; `tests/test_migrations.py` looks at PostgreSQL."""
    settings.MIGRATION_MODULES = {}
    with using_file(tmp_path / "new.sqlite3") as database:
        for app in ("vault", "audit"):  # the tests' data keys are put back wherever something migrates
            call_command("migrate", app, verbosity=0)
        assert list(guards.guard_findings(database)) == []


@pytest.mark.parametrize("table", TABLES)
def test_no_row_is_changed_or_taken_out(table: str, event: Event) -> None:
    for statement in (CHANGES[table], f"DELETE FROM {table}"):  # noqa: S608 (names of our own)
        with pytest.raises(IntegrityError, match="append-only"):
            run(statement)


@on_sqlite
@pytest.mark.parametrize("statement", REPLACED)
def test_no_row_is_replaced(statement: str, event: Event) -> None:
    with pytest.raises(IntegrityError, match="append-only"):
        run(statement)


@on_postgresql
@pytest.mark.parametrize("table", TABLES)
def test_no_table_is_emptied_not_even_as_a_replica(table: str, event: Event) -> None:
    for statement in (f"TRUNCATE {table} CASCADE", f"DELETE FROM {table}"):  # noqa: S608
        with pytest.raises(IntegrityError, match="append-only"):
            run(f"SET LOCAL session_replication_role = replica; {statement}")


def test_the_subjects_of_an_event_are_complete_when_it_is_linked(event: Event, cast: Cast) -> None:
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        event.subjects.create(kind="x.y", subject_id=cast.south.pk)


def test_the_head_moves_on(event: Event) -> None:
    assert run("UPDATE audit_head SET number = number + 1") == 1


@pytest.mark.parametrize("harm", ["missing", "altered", "of others"])
def test_a_trigger_that_is_not_as_it_was_made_is_found(harm: str) -> None:
    database = transaction.get_connection()
    if harm == "of others":
        run(_foreign(database))
    else:
        name, (table, text) = next(iter(guards.wanted(database).items()))
        on_table = f" ON {table}" if database.vendor == "postgresql" else ""
        run(f"DROP TRIGGER {name}{on_table}")
        if harm == "altered":
            run(text.replace("BEFORE", "AFTER"))
    [finding] = guards.guard_findings(database)
    assert finding.startswith("trigger ")


def _foreign(database: Any) -> str:
    if database.vendor == "postgresql":
        return (
            "CREATE TRIGGER other BEFORE INSERT ON audit_event FOR EACH ROW "
            "EXECUTE FUNCTION suppress_redundant_updates_trigger()"
        )
    return "CREATE TRIGGER other AFTER INSERT ON audit_event BEGIN SELECT 1; END"


@on_postgresql
@pytest.mark.parametrize("way", ["disabled", "as usual", "another function"])
def test_a_trigger_that_does_not_always_fire_is_found(way: str) -> None:
    statements = {
        "disabled": "ALTER TABLE audit_event DISABLE TRIGGER audit_event_keeps_rows",
        "as usual": "ALTER TABLE audit_event ENABLE TRIGGER audit_event_keeps_rows",
        "another function": "CREATE OR REPLACE FUNCTION history_refuses() RETURNS trigger LANGUAGE plpgsql "
        "AS $$BEGIN RETURN NEW; END$$",
    }
    run(statements[way])
    assert len(list(guards.guard_findings(transaction.get_connection()))) == 1


def test_emptying_without_the_way_of_the_tests_is_refused(event: Event) -> None:
    with pytest.raises(DatabaseError, match="append-only"):
        run("DELETE FROM audit_link")
    assert Event.objects.exists()
