"""A new installation's tables by every migration, against the same tables made from the models at once.

SQLite, or PostgreSQL where KEYCTL_DATABASE_URL names a server.
"""

import os
import tempfile
from typing import Any

from tests.bench.installed import from_the_models
from tests.bench.report import Report, best_of

MOST_S = 120.0
# Migrations keep their order and rebuild tables as they were written; more than this would want them joined.
WANTED = 1 / 100


def run(report: Report) -> None:
    os.environ["KEYCTL_DATA_DIR"] = tempfile.mkdtemp(prefix="keyctl-bench-")
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    import django

    django.setup()
    from django.db import connection
    from django.db.migrations.loader import MigrationLoader

    count = len(MigrationLoader(connection).graph.nodes)
    migrated, tables = best_of(1, _made)
    _emptied(connection)
    from_the_models()
    at_once, same = best_of(1, lambda: _made(run_syncdb=True))
    if tables - same != {"django_migrations"} - same:
        raise AssertionError(tables ^ same)
    report.at_most("a new installation migrated", migrated, MOST_S, remark=f"{count} migrations")
    report.ratio("migrated : tables from the models", migrated, at_once, WANTED, f"{len(same)} tables")


def _made(**options: Any) -> set[str]:
    from django.core.management import call_command
    from django.db import connection

    call_command("migrate", verbosity=0, **options)
    return set(connection.introspection.table_names())


def _emptied(connection: Any) -> None:
    """The same place again, with nothing in it."""
    name = connection.settings_dict["NAME"]
    connection.close()
    if connection.vendor == "sqlite":
        for end in ("", "-wal", "-shm"):
            if os.path.exists(f"{name}{end}"):  # noqa: PTH110 (a name that Django keeps as text)
                os.remove(f"{name}{end}")  # noqa: PTH107
        return
    with connection.cursor() as cursor:
        cursor.execute("DROP SCHEMA public CASCADE")
        cursor.execute("CREATE SCHEMA public")
