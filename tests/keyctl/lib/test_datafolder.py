"""Folders that lose what was written are refused at the start; the lines are as proc(5) and fstab(5) say."""

from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from pytest_django import Settings

from keyctl.lib import datafolder
from keyctl.lib.datafolder import check_data_folder, trouble_with

MOUNTS = r"""
/dev/vda1 / ext4 rw,relatime 0 0
tmpfs /dev/shm tmpfs rw,nosuid,nodev 0 0
tmpfs /run/data tmpfs rw 0 0
/dev/vdb /run/data/disk xfs rw 0 0
files:/srv /srv/share nfs4 rw,vers=4.2 0 0
//files/keys /srv/with\040blank cifs rw 0 0
me@files:/ /srv/far fuse.sshfs rw 0 0
/dev/vdc /srv/twice ext4 rw 0 0
tmpfs /srv/twice tmpfs rw 0 0
host /srv/guest 9p rw 0 0
"""


@pytest.fixture(autouse=True)
def mounts(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    file = tmp_path / "mounts"
    file.write_text(MOUNTS)
    monkeypatch.setattr(datafolder, "MOUNTS", file)
    return file


@pytest.mark.parametrize(
    ("folder", "words"),
    [
        ("/dev/shm/keyctl", "in memory"),  # noqa: S108 (the folder that is refused)
        ("/run/data", "in memory"),
        ("/srv/share/keyctl/data", "another machine"),
        ("/srv/with blank/data", "another machine"),
        ("/srv/far/data", "another machine"),
        ("/srv/guest", "another machine"),
        ("/srv/twice/data", "in memory"),
    ],
)
def test_what_does_not_keep_is_refused(folder: str, words: str) -> None:
    assert words in (trouble_with(Path(folder)) or "")
    # On PostgreSQL nothing lies there that must last.
    assert trouble_with(Path(folder), "keyctl.lib.postgresql") is None


@pytest.mark.parametrize("folder", ["/srv/data", "/run/data/disk/keyctl", "/dev/shared", "/"])
def test_a_local_disk_is_not(folder: str) -> None:
    assert trouble_with(Path(folder)) is None


def test_a_link_is_followed(tmp_path: Path, mounts: Path) -> None:
    (tmp_path / "memory").mkdir()
    (tmp_path / "data").symlink_to(tmp_path / "memory")
    mounts.write_text(f"{MOUNTS}tmpfs {tmp_path}/memory tmpfs rw 0 0\n")
    assert "in memory" in (trouble_with(tmp_path / "data") or "")


def test_a_system_that_does_not_tell_is_believed(mounts: Path) -> None:
    mounts.unlink()
    assert trouble_with(Path("/dev/shm")) is None  # noqa: S108


def test_the_start_is_refused_unless_somebody_knows_better(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.DATA_DIR = Path("/dev/shm/keyctl")  # noqa: S108
    monkeypatch.setitem(settings.DATABASES["default"], "ENGINE", "keyctl.lib.gated")
    with pytest.raises(SystemCheckError, match=r"keyctl\.E001"):
        call_command("check")
    settings.ANY_DATA_FOLDER = True
    assert check_data_folder() == []


def test_this_machine_s_own_list_can_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    found = datafolder.mounts()
    assert not found or any(mount.folder == Path("/") for mount in found)
