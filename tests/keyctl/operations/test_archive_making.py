"""Making an archive of the estate by hand: what is refused before a word is written, and the commands."""

from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from pytest_django import Settings

from keyctl.lib.errors import Refused
from keyctl.operations.archive import container
from keyctl.operations.archive.container import Cost, new_lock
from keyctl.operations.archive.making import make_archive
from tests.keyctl.operations.installations import installation

pytestmark = pytest.mark.usefixtures("quick_laws")
PASSPHRASE = "six wörds that nobody drew by lot"


@pytest.fixture(autouse=True)
def cheap_guesses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(container, "COST", Cost(memory_kib=64, passes=1, lanes=1))


@pytest.mark.parametrize("weak", ["", "short", "a" * 40, "nineteen characters"])
def test_a_weak_passphrase_makes_no_archive(weak: str) -> None:
    with pytest.raises(Refused, match="too short"):
        new_lock(weak)


@pytest.mark.usefixtures("estate")
def test_a_file_that_is_there_stays(tmp_path: Path) -> None:
    there = tmp_path / "there"
    there.write_text("something")
    with pytest.raises(Refused, match="there already"):
        make_archive(there, new_lock(PASSPHRASE))
    with pytest.raises(Refused, match="could not be written"):
        make_archive(tmp_path / "no" / "folder", new_lock(PASSPHRASE))
    assert there.read_text() == "something"
    assert sorted(each.name for each in tmp_path.glob(".*")) == []


@pytest.mark.usefixtures("estate")
def test_export_then_import(tmp_path: Path, settings: Settings, django_db_blocker: Any) -> None:
    words, out = tmp_path / "words", StringIO()
    words.write_text(PASSPHRASE + "\n")
    file = tmp_path / "file"
    call_command("export_estate", str(file), passphrase_file=words, stdout=out)
    call_command("export_estate", canonical=True, stdout=(canon := StringIO()))
    assert canon.getvalue().strip() in out.getvalue()
    assert PASSPHRASE not in out.getvalue()
    settings.CHECKPOINT_DIR = tmp_path / "checkpoints-elsewhere"
    with installation(tmp_path / "elsewhere", django_db_blocker):
        call_command("import_estate", str(file), passphrase_file=words, stdout=(told := StringIO()))
        assert canon.getvalue().strip() in told.getvalue()
        with pytest.raises(CommandError, match="not empty"):
            call_command("import_estate", str(file), passphrase_file=words)
    with pytest.raises(CommandError, match="Name the file"):
        call_command("export_estate")
