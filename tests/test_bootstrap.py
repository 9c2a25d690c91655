"""The first start: a whole .venv, or plain words why there is none."""

import errno
import fcntl
import os
import shutil
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

from keyctl.lib import bootstrap
from keyctl.lib.bootstrap import CannotStart, Home


class Disk(NamedTuple):
    total: int
    used: int
    free: int


class Machine:
    """Stands in for pip and venv: notes the commands, makes the files, and fails where told."""

    def __init__(self, home: Home) -> None:
        self.home = home
        self.commands: list[str] = []
        self.code = 0
        self.output = ""

    def run(self, command: list[str], _held: int) -> tuple[int, str]:
        self.commands.append("venv" if "venv" in command else f"pip {Path(command[-1]).parent.name}")
        if "venv" in command:
            self.home.python.parent.mkdir(exist_ok=True)
            self.home.python.touch()
            (self.home.venv / "pyvenv.cfg").touch()
            return 0, ""
        return self.code, self.output


@pytest.fixture
def home(tmp_path: Path) -> Home:
    root = tmp_path / "project"
    (root / ".ci").mkdir(parents=True)
    (root / "requirements.txt").write_text(
        "one==1 \\\n    --hash=sha256:00\ntwo==2 \\\n    --hash=sha256:00\n"
    )
    (root / ".ci" / "requirements.txt").write_text("three==3 \\\n    --hash=sha256:00\n")
    return Home(root)


@pytest.fixture
def machine(home: Home, monkeypatch: pytest.MonkeyPatch) -> Machine:
    made = Machine(home)
    monkeypatch.setattr(bootstrap, "run_quietly", made.run)
    return made


# The .venv


def test_the_first_start_makes_the_venv_and_installs_what_running_needs(
    home: Home, machine: Machine, capsys: pytest.CaptureFixture[str]
) -> None:
    bootstrap.prepare(home, home.locks(testing=False))
    assert machine.commands == ["venv", "pip project"]
    said = capsys.readouterr().err.splitlines()
    assert said[:2] == ["keyctl: making .venv", "keyctl: installing 2 packages (about a minute)"]
    assert said[2].startswith("keyctl: done in ")


def test_the_second_start_does_nothing(home: Home, machine: Machine) -> None:
    bootstrap.prepare(home, home.locks(testing=False))
    machine.commands.clear()
    bootstrap.prepare(home, home.locks(testing=False))
    assert machine.commands == []


def test_the_first_test_run_adds_only_the_test_tools(home: Home, machine: Machine) -> None:
    bootstrap.prepare(home, home.locks(testing=False))
    machine.commands.clear()
    bootstrap.prepare(home, home.locks(testing=True))
    assert machine.commands == ["pip .ci"]
    assert bootstrap.missing(home, home.locks(testing=False)) == []


def test_a_changed_lock_is_installed_over_what_is_there(home: Home, machine: Machine) -> None:
    bootstrap.prepare(home, home.locks(testing=False))
    machine.commands.clear()
    (home.root / "requirements.txt").write_text("one==2\n")
    bootstrap.prepare(home, home.locks(testing=False))
    assert machine.commands == ["pip project"]


def test_an_interrupted_installation_is_started_afresh(
    home: Home, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bootstrap, "install", interrupt)
    with pytest.raises(KeyboardInterrupt):
        bootstrap.prepare(home, home.locks(testing=False))
    monkeypatch.undo()
    monkeypatch.setattr(bootstrap, "run_quietly", machine.run)
    machine.commands.clear()
    bootstrap.prepare(home, home.locks(testing=False))
    assert machine.commands == ["venv", "pip project"]


def interrupt(*_: object) -> str:
    raise KeyboardInterrupt


def test_a_venv_whose_python_is_gone_is_made_again(home: Home, machine: Machine) -> None:
    bootstrap.prepare(home, home.locks(testing=False))
    machine.commands.clear()
    home.python.unlink()
    home.python.symlink_to("/nowhere/python3.11")
    bootstrap.prepare(home, home.locks(testing=False))
    assert machine.commands == ["venv", "pip project"]


def test_a_second_start_finds_the_work_done_by_the_first(home: Home, machine: Machine) -> None:
    bootstrap.prepare(home, home.locks(testing=False))
    machine.commands.clear()
    bootstrap.bring_up_to_date(home, home.locks(testing=False), held=-1)
    assert machine.commands == []


def test_only_one_start_at_a_time_may_change_the_venv(home: Home) -> None:
    with bootstrap.one_at_a_time(home):
        other = os.open(home.root, os.O_RDONLY)
        with pytest.raises(BlockingIOError):
            fcntl.flock(other, fcntl.LOCK_EX | fcntl.LOCK_NB)
        os.close(other)
    with bootstrap.one_at_a_time(home):
        pass


def test_no_venv_is_made_where_the_environment_forbids_it(
    home: Home, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KEYCTL_NO_VENV", "1")
    bootstrap.enter_venv(home, ["manage.py", "check"], testing=False)
    assert machine.commands == []


def test_the_venv_takes_over_with_the_same_arguments(
    home: Home, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("KEYCTL_NO_VENV", raising=False)
    monkeypatch.setenv("PYTHONHOME", "/elsewhere")
    started: list[object] = []
    monkeypatch.setattr(
        os,
        "execve",
        lambda _path, command, environment: started.extend([command, "PYTHONHOME" in environment]),
    )
    bootstrap.enter_venv(home, ["manage.py", "check", "--deploy"], testing=False)
    assert started == [[str(home.python), str(home.root / "manage.py"), "check", "--deploy"], False]


# What can go wrong with it


def complaint(home: Home) -> str:
    with pytest.raises(CannotStart) as caught:
        bootstrap.prepare(home, home.locks(testing=False))
    return str(caught.value)


def test_a_full_disk_is_told_before_anything_is_made(
    home: Home, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: Disk(1000, 988, 12_000_000))
    said = complaint(home)
    assert said.startswith("keyctl: Too little disk space")
    assert "1300 MB are needed, 12 MB are free" in said
    assert not home.venv.exists()


def test_a_disk_that_fills_up_on_the_way_is_told(home: Home, machine: Machine) -> None:
    machine.code, machine.output = 1, "ERROR: [Errno 28] No space left on device\n"
    assert "installing packages failed. Too little disk space" in complaint(home)


@pytest.mark.parametrize("code", [errno.EACCES, errno.EPERM, errno.EROFS])
def test_a_folder_that_cannot_be_written_is_told_in_one_line(
    home: Home, machine: Machine, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    def refuse(self: Path) -> None:
        raise OSError(code, os.strerror(code), str(self))

    monkeypatch.setattr(Path, "mkdir", refuse)
    said = complaint(home)
    assert said.startswith(f"keyctl: Cannot write to {home.venv}.")
    assert "\n" not in said


def test_a_python_without_venv_names_the_package_to_install(
    home: Home, machine: Machine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    assert "`apt-get install python3-venv`" in complaint(home)


def test_a_failing_pip_shows_its_last_lines_and_one_remedy(home: Home, machine: Machine) -> None:
    chatter = "WARNING: the index is odd\n" * 40
    machine.code, machine.output = 1, f"{chatter}ERROR: No matching distribution found for two==2\n"
    assert complaint(home).splitlines() == [
        "ERROR: No matching distribution found for two==2",
        "keyctl: installing packages failed. Check the network and pip's index settings (`pip config list`), "
        "then run the same command again.",
    ]


def test_a_wrong_hash_is_not_called_a_network_fault(home: Home, machine: Machine) -> None:
    machine.code = 1
    machine.output = "ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.\n"
    assert "is not the locked one" in complaint(home)


def test_a_failed_pip_is_tried_again_by_the_next_start(home: Home, machine: Machine) -> None:
    machine.code = 1
    complaint(home)
    machine.code = 0
    machine.commands.clear()
    bootstrap.prepare(home, home.locks(testing=False))
    assert machine.commands == ["pip project"]


def test_a_failed_update_leaves_the_old_packages_usable(home: Home, machine: Machine) -> None:
    bootstrap.prepare(home, home.locks(testing=False))
    machine.code = 1
    with pytest.raises(CannotStart):
        bootstrap.prepare(home, home.locks(testing=True))
    assert bootstrap.missing(home, home.locks(testing=False)) == []


def test_a_real_pip_refuses_a_package_with_another_hash(
    home: Home, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "one-1-py3-none-any.whl").write_bytes(b"not what was locked")
    (home.root / "requirements.txt").write_text(f"one==1 --hash=sha256:{'0' * 64}\n")
    home.python.parent.mkdir(parents=True)
    home.python.write_text(f'#!/bin/sh\nexec "{sys.executable}" "$@"\n')
    home.python.chmod(0o755)
    # Nothing from outside, and nothing into the .venv these tests run in.
    for name, value in {
        "NO_INDEX": "1",
        "FIND_LINKS": str(tmp_path),
        "TARGET": str(tmp_path / "out"),
    }.items():
        monkeypatch.setenv(f"PIP_{name}", value)
    with bootstrap.one_at_a_time(home) as held:
        assert "is not the locked one" in bootstrap.install(home, home.root / "requirements.txt", held)
