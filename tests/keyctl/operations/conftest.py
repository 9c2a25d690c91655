"""An estate of its own for tests of backups: made once a module, looked at by many."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.recorder import MigrationRecorder
from pytest_django import Settings

from keyctl.keys.models import DeskSettings, Handover
from keyctl.lib import laws
from keyctl.operations.backup import keys
from keyctl.operations.backup.snapshot import standing_on
from keyctl.operations.backup.tables import note_all_migrations
from keyctl.vault import ring
from tests.cast import Cast, gather
from tests.keyctl.operations.installations import installation, use_folders
from tests.scenes import build_routes

# Enough to see that a restored estate is the one that was; all of them are tried in test_estate.
QUICK_LAWS = ("database.file", "history.chain", "stock.bins", "vault.opens")


@dataclass(frozen=True)
class Estate:
    folder: Path
    database: BaseDatabaseWrapper
    cast: Cast

    @property
    def file(self) -> Path:
        return Path(self.database.settings_dict["NAME"])


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory, django_db_blocker: Any) -> Estate:
    """One of everything, committed, on SQLite whatever the tests run on."""
    folder = tmp_path_factory.mktemp("estate")
    with installation(folder / "database", django_db_blocker) as database:
        ring.make_first_keys()
        cast = gather()
        build_routes(cast)
        number_acts(cast)
    return Estate(folder, database, cast)


def number_acts(cast: Cast) -> None:
    """The scenes write an act of the desk past it, with a number of its own."""
    acts = list(Handover.objects.filter(site=cast.north).order_by("number"))
    with connection.cursor() as cursor:
        for number, act in enumerate(acts, start=1):
            cursor.execute("UPDATE keys_handover SET number = %s WHERE id = %s", [number, act.pk.hex])
    DeskSettings.objects.update_or_create(site=cast.north, defaults={"last_number": len(acts)})


@pytest.fixture
def estate(built: Estate, settings: Settings, tmp_path: Path, django_db_blocker: Any) -> Iterator[Estate]:
    """To stand on for a test, with folders and keys of its own."""
    use_folders(settings, tmp_path)
    # Its history goes on from test to test.
    settings.HISTORY_KEY_FILE = built.folder / "history.key"
    settings.CHECKPOINT_DIR = built.folder / "checkpoints"
    keys.make_keys_if_missing()
    with django_db_blocker.unblock(), standing_on(built.database):
        yield built
    built.database.close()


@pytest.fixture
def quick_laws(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(laws, "_laws", {name: laws._laws[name] for name in QUICK_LAWS})


@pytest.fixture
def empty(transactional_db: None) -> Iterator[None]:
    """Nothing in it, and its tables as all migrations leave them.

    What is noted of those goes again: what empties the tables after a test knows those of models alone.
    """
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM vault_datakey")
    records = MigrationRecorder(connection)
    was_there = records.has_table()
    if not was_there:
        note_all_migrations(connection)
    yield
    if not was_there:
        with connection.schema_editor() as editor:
            editor.delete_model(records.Migration)
