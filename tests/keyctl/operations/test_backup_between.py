"""From SQLite to PostgreSQL and back: every row is the same, the laws hold there too, and see there too."""

from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from pytest_django import Settings

from keyctl.audit.checking import check_history
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.operations.backup.dumping import Tally, tally_of
from keyctl.operations.backup.making import make_backup
from keyctl.operations.backup.restoring import WORDS, restore_backup
from keyctl.operations.backup.snapshot import standing_on
from keyctl.operations.backup.tables import kept_tables
from keyctl.operations.estate.checking import check_estate
from keyctl.operations.looking import look_at_everything
from tests.factories import make_site
from tests.keyctl.operations.conftest import Estate
from tests.keyctl.operations.installations import installation, use_folders

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif("postgresql" not in connection.settings_dict["ENGINE"], reason="needs PostgreSQL"),
]


def tallies() -> dict[str, Tally]:
    """What is told of the making and the bringing back comes after."""
    tables = [table for table in kept_tables() if not table.name.startswith(("audit_", "operations_"))]
    return {table.name: tally_of(table) for table in tables}


def run(*statements: str) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def test_it_goes_there_and_comes_back(
    empty: None, built: Estate, settings: Settings, tmp_path: Path, django_db_blocker: Any
) -> None:
    use_folders(settings, tmp_path / "one")
    settings.HISTORY_KEY_FILE = built.folder / "history.key"
    settings.CHECKPOINT_DIR = built.folder / "checkpoints"
    from keyctl.operations.backup import keys

    keys.make_keys_if_missing()
    with standing_on(built.database):
        before, first = tallies(), make_backup()
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints"
    restored = restore_backup(first.file)
    assert connection.vendor == "postgresql"
    assert [each.sentences for each in restored.outcome.breached] == []
    assert tallies() == before
    # Numbers go on behind those that came along.
    record(actor=None, verb="test.went_on", sentence="went on")
    make_site("EAST")
    assert list(check_history()) == []
    second = make_backup(tmp_path / "two")
    with installation(tmp_path / "elsewhere", django_db_blocker):
        settings.CHECKPOINT_DIR = tmp_path / "checkpoints-elsewhere"
        assert restore_backup(second.file).outcome.number == 0
        after = tallies()
    assert {name for name in after if after[name] != before[name]} == {"places_site"}
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints-again"
    restore_backup(first.file, replace=WORDS)
    assert tallies() == before
    see_breaches()


def see_breaches() -> None:
    core = Core.objects.filter(place="housing")[0]
    run(
        "ALTER TABLE cores_core DROP CONSTRAINT core_is_in_exactly_one_place",
        f"UPDATE cores_core SET place = 'shelf' WHERE id = '{core.pk}'",  # noqa: S608 (an identifier)
        "DROP INDEX housing_holds_at_most_one_core",
    )
    try:
        found = {each.law.name: each.named for each in check_estate().breached}
        assert found["database.rows"] == [f"cores_core {core.pk}: forbidden by core_is_in_exactly_one_place."]
        assert len(found["database.constraints"]) == 2
    finally:
        put_back(core)
    assert look_at_everything().number == 0


def put_back(core: Core) -> None:
    Core.objects.filter(pk=core.pk).update(place="housing")
    wanted = {"core_is_in_exactly_one_place", "housing_holds_at_most_one_core"}
    with connection.schema_editor() as editor:
        for constraint in Core._meta.constraints:
            if constraint.name in wanted:
                editor.add_constraint(Core, constraint)
