"""The real tables in a database of its own, and how many doors are written there quickly.

Foreign keys are not asked while rows are made (``tests/paper/test_estate.py`` asks them all); the feed's
and the search's triggers are away, since nobody reads meanwhile. Checks and unique indexes stay.
"""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction

from keyctl.accounts.models import User
from tests.paper import estate
from tests.paper.rows import Rows, Span

AT_ONCE = 50_000
AT_A_TIME = 2


def begin() -> User:
    """From the models, which is where all migrations lead."""
    from keyctl.feed import triggers

    settings.MIGRATION_MODULES = {config.label: None for config in apps.get_app_configs()}
    settings.ALLOWED_HOSTS = ["testserver"]
    call_command("migrate", verbosity=0, run_syncdb=True)
    triggers.remove(connection)
    return estate.found()


def fill(maker: User, doors: Span) -> None:
    """Row by row into the indexes, as in life."""
    for span in _parts(doors):
        _write(list(estate.estate(maker)), span)
    run("VACUUM ANALYZE")


def fill_quickly(maker: User, doors: Span, belongs: Callable[[str], bool]) -> None:
    """Tables that belong, two spans at a time; their indexes are made anew at the end, which gives
    smaller ones.
    """
    wanted = [rows for rows in estate.estate(maker) if belongs(rows.table)]
    with _indexes_at_the_end(sorted({rows.table for rows in wanted})), ThreadPoolExecutor(AT_A_TIME) as pool:
        list(pool.map(lambda span: _write_apart(wanted, span), _parts(doors)))
    run("VACUUM ANALYZE")


def _parts(doors: Span) -> list[Span]:
    return [(first, min(first + AT_ONCE, doors[1])) for first in range(doors[0], doors[1], AT_ONCE)]


def _write_apart(wanted: list[Rows], span: Span) -> None:
    """In a thread, with a connection of its own."""
    try:
        _write(wanted, span)
    finally:
        connection.close()


def _write(wanted: list[Rows], span: Span) -> None:
    with transaction.atomic():
        run("SET LOCAL session_replication_role = replica")
        for rows in wanted:
            rows.write(span)


@contextmanager
def _indexes_at_the_end(tables: list[str]) -> Iterator[None]:
    """Indexes that are marked as not ready are not written to; making them anew makes them ready."""
    named = "indrelid = ANY(%s::text[]::regclass[])"
    run(f"UPDATE pg_index SET indisready = false, indisvalid = false WHERE {named}", [tables])  # noqa: S608
    yield
    run("SET maintenance_work_mem = '1GB'")
    for table in tables:
        run(f'REINDEX TABLE "{table}"')
    assert run(f"SELECT count(*) FROM pg_index WHERE NOT indisvalid AND {named}", [tables]) == [(0,)]  # noqa: S608


def run(sql: str, parameters: Any = None) -> list[tuple[Any, ...]]:
    """The rows of a statement; none where it gives none."""
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        return list(cursor.fetchall()) if cursor.description else []
