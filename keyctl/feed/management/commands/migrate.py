"""``manage.py migrate``: as ever, but nothing is watched while tables change; afterwards all is listed,
and the database looks anew at what its tables hold."""

from typing import Any

from django.conf import settings
from django.core.management.commands import migrate
from django.db import connections
from django.db.migrations.executor import MigrationExecutor

from keyctl.feed.services import unwatched, watch_again
from keyctl.lib.planner import look_anew


class Command(migrate.Command):
    def execute(self, *args: Any, **options: Any) -> Any:
        # It is the first command of a new installation: the folder is not there yet, and checks look into it.
        settings.DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
        return super().execute(*args, **options)

    def handle(self, *args: Any, **options: Any) -> None:
        connection = connections[options["database"]]
        if options["plan"] or options["check_unapplied"]:
            super().handle(*args, **options)
        elif _changes_tables(connection, options):
            with unwatched(connection):
                super().handle(*args, **options)
            look_anew(options["database"])
        else:
            super().handle(*args, **options)
            watch_again(connection)


def _changes_tables(connection: Any, options: dict[str, Any]) -> bool:
    if options["app_label"]:
        return True
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
