"""What must hold before this process should be sent requests, and what somebody should look at besides."""

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone
from django.utils.translation import gettext_noop

from keyctl.jobs.models import WorkerSign
from keyctl.jobs.selectors import SIGN_HOLDS_FOR, routine_rows
from keyctl.lib.errors import Refused
from keyctl.operations.backup.folder import age_of_newest
from keyctl.operations.models import EstateCheck
from keyctl.vault import ring

LEAST_ROOM = 256 * 1024 * 1024
NEWEST_BACKUP = timedelta(hours=36)


@dataclass(frozen=True)
class Probe:
    name: str
    is_good: bool
    # Whether requests should go elsewhere while it is not good.
    is_needed: bool
    remedy: str

    @property
    def words(self) -> str:
        if self.is_good:
            return "good"
        return self.remedy


def probes() -> list[Probe]:
    """In this order, and none after a database that does not answer: the others would ask it."""
    found = [_probe("database", True, _database_answers, gettext_noop("The database does not answer."))]
    if not found[0].is_good:
        return found
    return [
        *found,
        _probe(
            "tables",
            True,
            _tables_are_new,
            gettext_noop("Tables are older than the program: run manage.py migrate."),
        ),
        _probe("room", True, _has_room, gettext_noop("The data folder's disk is nearly full: make room.")),
        _probe("vault", False, vault_is_open, gettext_noop("The vault is sealed: put its key back.")),
        _probe("worker", False, _worker_lives, gettext_noop("No worker gives a sign: start manage.py work.")),
        _probe(
            "backup",
            False,
            _backup_is_new,
            gettext_noop("There is no backup of the last day and a half: see Routines."),
        ),
        _probe(
            "estate",
            False,
            _estate_is_sound,
            gettext_noop("A law of the data is broken: run manage.py check_estate."),
        ),
        _probe(
            "routines",
            False,
            _routines_run,
            gettext_noop("A routine is late by an hour: look at the worker."),
        ),
    ]


def _probe(name: str, is_needed: bool, look: Callable[[], bool], remedy: str) -> Probe:
    try:
        is_good = look()
    except (DatabaseError, OSError):
        is_good = False
    return Probe(name, is_good, is_needed, remedy)


def _database_answers() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        return bool(cursor.fetchone())


def _tables_are_new() -> bool:
    executor = MigrationExecutor(connection)
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())


def _has_room() -> bool:
    return shutil.disk_usage(settings.DATA_DIR).free >= LEAST_ROOM


def vault_is_open() -> bool:
    """A key is there, and it is the one of this database."""
    try:
        ring.current()
    except Refused:
        return False
    return True


def _worker_lives() -> bool:
    return WorkerSign.objects.filter(seen_at__gt=timezone.now() - SIGN_HOLDS_FOR).exists()


def _backup_is_new() -> bool:
    """Where a folder is configured on this host. What is nightly may be late by half a day."""
    age = age_of_newest(timezone.now())
    return age is None or age < NEWEST_BACKUP.total_seconds()


def _estate_is_sound() -> bool:
    last = EstateCheck.objects.order_by("-at").first()
    return last is None or last.is_clean


def _routines_run() -> bool:
    return not any(row.is_late for row in routine_rows())
