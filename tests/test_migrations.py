"""Tests make their tables from the models, which takes a tenth of the time; here the migrations make them."""

import pytest
from django.core.management import call_command
from django.db import connection, connections
from pytest_django import Settings

from keyctl.audit import guards

# Django's own migrations name other numbers than its models; its table of migrations is no model.
NOT_OURS = ("auth_", "django_migrations")
COLUMNS = """SELECT table_name, column_name, data_type, character_maximum_length, is_nullable
    FROM information_schema.columns WHERE table_schema = %s"""
CONSTRAINTS = """SELECT c.conrelid::regclass::text, c.conname, pg_get_constraintdef(c.oid)
    FROM pg_constraint c JOIN pg_namespace n ON n.oid = c.connamespace WHERE n.nspname = %s"""
INDEXES = "SELECT tablename, indexname, indexdef FROM pg_indexes WHERE schemaname = %s"


def tables_in(schema: str) -> dict[str, set[tuple[str, ...]]]:
    """What stands there, without the name of the schema."""
    with connection.cursor() as cursor:
        cursor.execute(f"SET LOCAL search_path TO {schema}")
        found = {}
        for what in (COLUMNS, CONSTRAINTS, INDEXES):
            cursor.execute(what, [schema])
            rows = (tuple(str(fact).replace(f"{schema}.", "") for fact in row) for row in cursor)
            found[what.split()[1]] = {row for row in rows if not row[0].startswith(NOT_OURS)}
    return found


@pytest.mark.postgres
@pytest.mark.skipif(connection.vendor != "postgresql", reason="one database shows it")
def test_all_migrations_make_what_the_models_say(db: None, settings: Settings) -> None:
    settings.MIGRATION_MODULES = {}
    with connection.cursor() as cursor:
        cursor.execute("CREATE SCHEMA migrated; SET LOCAL search_path TO migrated")
    call_command("migrate", verbosity=0)
    assert list(guards.guard_findings(connections["default"])) == []
    migrated, said = tables_in("migrated"), tables_in("public")
    assert len(said["table_name,"]) > 500
    for what, rows in said.items():
        assert migrated[what] ^ rows == set()
