"""When backups are made, where they lie and how many stay."""

from datetime import UTC, datetime
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from pytest_django import Settings

from keyctl.audit.models import Event
from keyctl.lib.errors import Refused
from keyctl.operations.backup import folder, nightly
from keyctl.operations.backup.making import make_backup
from tests.keyctl.operations.conftest import Estate

pytestmark = pytest.mark.usefixtures("quick_laws")


def test_as_many_stay_as_are_wanted_and_halves_of_killed_ones_go(estate: Estate, settings: Settings) -> None:
    settings.BACKUP_DIR.mkdir()
    (settings.BACKUP_DIR / "notes.txt").write_text("ours")
    (settings.BACKUP_DIR / f".keyctl-20260101T000000Z.keyctl-backup{folder.UNFINISHED}").write_text("half")
    for day in (1, 2, 3):
        made = make_backup(now=datetime(2026, 3, day, tzinfo=UTC), keep=2)
    assert [file.name for file in made.pruned] == ["keyctl-20260301T000000Z.keyctl-backup"]
    assert sorted(file.name for file in settings.BACKUP_DIR.iterdir()) == [
        "keyctl-20260302T000000Z.keyctl-backup",
        "keyctl-20260303T000000Z.keyctl-backup",
        "notes.txt",
    ]
    assert made.file.stat().st_mode & 0o777 == 0o600
    assert Event.objects.filter(verb="backup.made").order_by("-id")[0].detail["pruned"]


def test_it_never_lies_beside_the_keys_that_open_it(estate: Estate, settings: Settings) -> None:
    for place in (settings.SECRETS_DIR, settings.SECRETS_DIR / "backups", settings.SECRETS_DIR.parent):
        with pytest.raises(Refused, match="must not lie beside the keys"):
            make_backup(place)
    settings.BACKUP_DIR = None
    with pytest.raises(Refused, match="KEYCTL_BACKUP_DIR"):
        make_backup()


def test_the_night_makes_none_before_somebody_took_the_key_away(estate: Estate, settings: Settings) -> None:
    now = datetime(2026, 5, 1, tzinfo=UTC)
    assert "configured" not in nightly.back_up_every_night(now)
    settings.BACKUP_PUBLIC_KEY_FILE.unlink()
    with pytest.raises(Refused, match="take a copy of"):
        nightly.back_up_every_night(now)
    settings.BACKUP_DIR = None
    assert "No folder" in nightly.back_up_every_night(now)


def test_the_command_makes_the_key_once_and_says_so(estate: Estate, settings: Settings) -> None:
    settings.BACKUP_KEY_FILE.unlink()
    settings.BACKUP_PUBLIC_KEY_FILE.unlink()
    said = StringIO()
    call_command("backup", stdout=said)
    assert "Copy it off this machine" in said.getvalue()
    assert "read back and compared" in said.getvalue()
    assert settings.BACKUP_KEY_FILE.stat().st_mode & 0o777 == 0o600
    with pytest.raises(CommandError, match="beside the keys"):
        call_command("backup", to=settings.SECRETS_DIR)


def test_two_at_once_do_not_meet(estate: Estate, settings: Settings) -> None:
    from keyctl.operations.backup.working_place import working_place

    left = settings.DATA_DIR / "scratch-of-a-killed-one"
    left.mkdir(parents=True)
    with working_place():
        assert not left.exists()
        with pytest.raises(Refused, match="Another backup"):
            make_backup()
