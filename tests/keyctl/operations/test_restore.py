"""A restore ends nothing by mistake, goes on with the history, and says what it needs beside it; a drill
proves that the newest backup would do."""

import json
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from pytest_django import Settings

from keyctl.accounts.models import User
from keyctl.audit.checking import check_history
from keyctl.audit.checkpoints import sign_history
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.operations.backup import drilling
from keyctl.operations.backup.making import Made, make_backup
from keyctl.operations.backup.restoring import WORDS, restore_backup
from keyctl.places.models import Site
from keyctl.vault import ring
from tests.factories import make_site
from tests.keyctl.operations.conftest import Estate
from tests.keyctl.operations.installations import installation

pytestmark = pytest.mark.usefixtures("quick_laws")


@pytest.fixture
def made(estate: Estate) -> Made:
    sign_history()
    return make_backup()


@pytest.fixture
def elsewhere(made: Made, settings: Settings, tmp_path: Path, django_db_blocker: Any) -> Iterator[None]:
    """An empty installation with the keys of the first, and without its checkpoints."""
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints"
    with installation(tmp_path / "elsewhere", django_db_blocker):
        yield


def test_the_history_goes_on_where_it_was(
    estate: Estate, made: Made, elsewhere: None, tmp_path: Path
) -> None:
    restore_backup(made.file)
    first = sorted((estate.folder / "checkpoints").glob("*.json"))
    assert first
    for file in first:
        assert json.loads((tmp_path / "checkpoints" / file.name).read_text()) == json.loads(file.read_text())
    record(actor=None, verb="test.went_on", sentence="went on")
    sign_history()
    assert list(check_history()) == []


def test_what_is_not_empty_is_kept_unless_the_words_are_said(made: Made, elsewhere: None) -> None:
    make_site("EAST")
    for words in ("", "yes", WORDS.upper()):
        with pytest.raises(Refused, match="not empty"):
            restore_backup(made.file, replace=words)
    assert [site.code for site in Site.objects.all()] == ["EAST"]
    restore_backup(made.file, replace=WORDS)
    assert "EAST" not in {site.code for site in Site.objects.all()}
    assert User.objects.count() > 5


def test_a_broken_backup_changes_nothing(made: Made, elsewhere: None) -> None:
    make_site("EAST")
    data = bytearray(made.file.read_bytes())
    data[-20] ^= 1
    made.file.write_bytes(bytes(data))
    with pytest.raises(Refused, match="not whole"):
        restore_backup(made.file, replace=WORDS)
    assert [site.code for site in Site.objects.all()] == ["EAST"]


def test_a_backup_that_another_installation_signed_is_refused(
    made: Made, elsewhere: None, settings: Settings
) -> None:
    signer = made.trial.contents.signed_by
    with pytest.raises(Refused, match="not by 00ff"):
        restore_backup(made.file, signed_by="00ff")
    settings.HISTORY_KEY_FILE = settings.SECRETS_DIR / "none.key"
    restored = restore_backup(made.file, signed_by=signer)
    assert any(signer in sentence for sentence in restored.missing)


def test_without_the_key_of_the_history_there_is_a_backup_that_nobody_signed(
    estate: Estate, settings: Settings, tmp_path: Path, django_db_blocker: Any
) -> None:
    """No other key is made in its place, and where a signer is expected it is refused."""
    sign_history()
    key, missing = settings.HISTORY_KEY_FILE, tmp_path / "secrets" / "missing.key"
    settings.HISTORY_KEY_FILE = missing
    unsigned = make_backup()
    assert not missing.exists()
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints"
    with installation(tmp_path / "elsewhere", django_db_blocker):
        settings.HISTORY_KEY_FILE = key
        with pytest.raises(Refused, match="signed by nobody"):
            restore_backup(unsigned.file)
        settings.HISTORY_KEY_FILE = missing
        assert any("Nobody signed" in sentence for sentence in restore_backup(unsigned.file).missing)


def test_newer_checkpoints_are_not_written_over(made: Made, tmp_path: Path, django_db_blocker: Any) -> None:
    """Whoever brings an older state back must say so: the folder proves what would be gone."""
    sign_history()
    with (
        installation(tmp_path / "elsewhere", django_db_blocker),
        pytest.raises(Refused, match="Move the folder away and keep it"),
    ):
        restore_backup(made.file)


def test_the_vault_key_that_is_wanted_is_named(
    made: Made, elsewhere: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KEYCTL_VAULT_KEY", "")
    ring.forget()
    restored = restore_backup(made.file)
    assert any("put back the vault key" in sentence for sentence in restored.missing)
    assert restored.outcome.number == 0
    monkeypatch.setenv("KEYCTL_VAULT_KEY", "A" * 43 + "=")
    ring.forget()
    said = StringIO()
    call_command("restore", str(made.file), replace=WORDS, stdout=said)
    assert "not the one of this database" in said.getvalue()


def test_the_command_says_no_in_a_sentence(made: Made, elsewhere: None, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("restore", str(tmp_path / "keyctl-20200101T000000Z.keyctl-backup"))
    assert not User.objects.exists()


def test_a_drill_is_timed_and_recorded_and_leaves_nothing(made: Made, settings: Settings) -> None:
    before = User.objects.count()
    said = StringIO()
    call_command("drill", stdout=said)
    told = Event.objects.order_by("-id")[0]
    assert told.verb == drilling.DRILLED
    assert told.detail["file"] == made.file.name
    assert f"{made.trial.contents.rows} rows are all there" in said.getvalue()
    assert "restore: " in said.getvalue()
    assert not list(settings.DATA_DIR.glob("scratch-*"))
    assert User.objects.count() == before


def test_a_drill_wants_the_secret_half_and_a_backup(made: Made, settings: Settings, tmp_path: Path) -> None:
    elsewhere = settings.BACKUP_KEY_FILE.rename(tmp_path / "moved.key")
    with pytest.raises(CommandError, match="--key"):
        call_command("drill")
    call_command("drill", key=elsewhere, stdout=StringIO())
    made.file.unlink()
    number = Event.objects.count()
    with pytest.raises(CommandError, match="no backup"):
        call_command("drill", key=elsewhere)
    assert Event.objects.count() == number


def test_a_drill_without_the_vault_key_has_not_seen_all(made: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KEYCTL_VAULT_KEY", "")
    ring.forget()
    said = StringIO()
    with pytest.raises(CommandError, match="not all of it was looked at"):
        call_command("drill", stdout=said)
    assert "vault.opens: not looked at" in said.getvalue()
