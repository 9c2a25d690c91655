"""From SQLite to PostgreSQL and back by archives: canonically the same byte for byte, and every law holds."""

from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from pytest_django import Settings

from keyctl.audit.checking import check_history
from keyctl.audit.services import record
from keyctl.operations.archive import container
from keyctl.operations.archive.container import Cost, new_lock
from keyctl.operations.archive.making import make_archive
from keyctl.operations.archive.taking import import_archive
from keyctl.operations.archive.telling import canonical_digest
from keyctl.operations.backup.snapshot import standing_on
from keyctl.systems.models import KeySymbol
from keyctl.vault import services as vault
from tests.factories import make_site
from tests.keyctl.operations.conftest import Estate
from tests.keyctl.operations.installations import installation, use_folders

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif("postgresql" not in connection.settings_dict["ENGINE"], reason="needs PostgreSQL"),
]

PASSPHRASE = "six words that nobody drew by lot"


@pytest.mark.usefixtures("empty")
def test_it_goes_there_and_comes_back(
    built: Estate,
    settings: Settings,
    tmp_path: Path,
    django_db_blocker: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(container, "COST", Cost(memory_kib=64, passes=1, lanes=1))
    use_folders(settings, tmp_path / "one")
    settings.HISTORY_KEY_FILE = built.folder / "history.key"
    settings.CHECKPOINT_DIR = built.folder / "checkpoints"
    with standing_on(built.database):
        first = make_archive(tmp_path / "first", new_lock(PASSPHRASE))
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints"
    taken = import_archive(first.file, PASSPHRASE)
    assert connection.vendor == "postgresql"
    assert [each.sentences for each in taken.outcome.breached] == []
    assert canonical_digest() == first.digest
    for symbol in KeySymbol.objects.exclude(bitting=None)[:20]:
        assert symbol.fingerprint in {
            "",
            vault.fingerprint(str(symbol.system_id), vault.unseal(symbol, "bitting")),
        }
    second = make_archive(tmp_path / "second", new_lock(PASSPHRASE))
    assert second.digest == first.digest
    with installation(tmp_path / "elsewhere", django_db_blocker):
        settings.CHECKPOINT_DIR = tmp_path / "checkpoints-elsewhere"
        assert import_archive(second.file, PASSPHRASE).outcome.number == 0
        assert canonical_digest() == first.digest
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints"
    # Numbers go on behind those that came along, and what is new changes what is told.
    record(actor=None, verb="test.went_on", sentence="went on")
    make_site("EAST")
    assert list(check_history()) == []
    assert canonical_digest() != first.digest
