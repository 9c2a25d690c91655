"""manage.py itself: the right Python, the test command, and one plain line for what can hit any command."""

import ast
import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, IntegrityError, OperationalError, ProgrammingError

import manage

ROOT = Path(__file__).resolve().parents[1]


def run_python(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603 (this very Python)
        [sys.executable, *arguments],
        cwd=ROOT,
        env=os.environ | environment,
        capture_output=True,
        text=True,
        check=False,
    )


def run_manage(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    settings = {"KEYCTL_NO_VENV": "1", "DJANGO_SETTINGS_MODULE": "tests.settings"}
    return run_python("manage.py", *arguments, **(settings | environment))


# The Python


def test_old_pythons_can_read_manage_py() -> None:
    ast.parse((ROOT / "manage.py").read_text(), feature_version=(3, 6))


def test_a_wrong_python_says_which_one_is_needed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 18))
    monkeypatch.setenv("PATH", "")
    assert manage.main(["manage.py", "check"]) == 1
    said = capsys.readouterr().err
    assert said.startswith("keyctl: needs Python 3.11, and this is 3.9.")
    assert said.count("\n") == 1


def test_a_wrong_python_gives_way_to_the_right_one_on_the_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = tmp_path / "python3.11"
    right.symlink_to(sys.executable)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(sys, "version_info", (3, 12, 1))
    started: list[list[str]] = []
    monkeypatch.setattr(os, "execv", lambda _path, command: started.append(command))
    manage.main(["manage.py", "check", "--deploy"])
    assert started == [[str(right), str(ROOT / "manage.py"), "check", "--deploy"]]


def test_a_stand_in_that_cannot_run_is_not_taken_for_the_right_python(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    stand_in = tmp_path / "python3.11"
    stand_in.write_text("#!/bin/sh\nexit 127\n")
    stand_in.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(sys, "version_info", (3, 12, 1))
    assert manage.main(["manage.py", "check"]) == 1
    assert "needs Python 3.11" in capsys.readouterr().err


def test_the_bootstrap_needs_nothing_but_the_standard_library() -> None:
    ended = run_python("-S", "-c", "import keyctl.lib.bootstrap, sys; print('django' in sys.modules)")
    assert (ended.stdout, ended.stderr) == ("False\n", "")


# What can hit any command


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("file is not a database", "PLACE is not a database, or is damaged."),
        ("database disk image is malformed", "PLACE is not a database, or is damaged."),
        ("database or disk is full", "there is no room left for PLACE."),
        ("attempt to write a readonly database", "cannot open or write PLACE."),
        ("unable to open database file", "cannot open or write PLACE."),
        ("disk I/O error", "the disk under PLACE does not answer properly."),
        ("database is locked", "PLACE is in use by another command."),
        ("no such table: keys_copy", "PLACE lacks tables."),
        (
            "connection failed: Connection\nrefused",
            "cannot reach PLACE (connection failed: Connection refused).",
        ),
    ],
)
def test_a_database_in_trouble_is_one_line_with_its_place(said: str, told: str) -> None:
    line = manage.explain_database(OperationalError(said), "PLACE")
    assert line is not None
    assert line.startswith(told)
    assert "\n" not in line


def test_a_missing_postgres_table_asks_for_the_migration() -> None:
    line = manage.explain_database(ProgrammingError('relation "cores_core" does not exist'), "PLACE")
    assert line == "PLACE lacks tables. Run `manage.py migrate`."


@pytest.mark.parametrize(
    "error", [IntegrityError("UNIQUE failed"), DatabaseError("odd"), RuntimeError("a fault")]
)
def test_a_fault_of_the_program_keeps_its_traceback(error: Exception) -> None:
    assert manage.explain(error) is None


def test_a_setting_that_cannot_be_read_is_one_line() -> None:
    assert manage.explain(ImproperlyConfigured("KEYCTL_DEBUG is 'x';\nwrite 1 or 0.")) == (
        "KEYCTL_DEBUG is 'x'; write 1 or 0."
    )


def test_a_postgres_place_shows_no_password(monkeypatch: pytest.MonkeyPatch) -> None:
    database = {
        "ENGINE": "x.postgresql",
        "NAME": "estate",
        "HOST": "db",
        "PORT": "5432",
        "PASSWORD": "sesame",
    }
    monkeypatch.setattr("django.conf.settings.DATABASES", {"default": database})
    assert manage.database_place() == "estate at db:5432"


def test_a_file_that_may_not_be_written_is_named() -> None:
    line = manage.explain(PermissionError(errno.EACCES, "Permission denied", "/srv/out.csv"))
    assert line == "may not open or write /srv/out.csv. Start as its owner, or mend its permissions."


@pytest.fixture
def damaged(tmp_path: Path) -> dict[str, str]:
    (tmp_path / "keyctl.sqlite3").write_text("a page of text, not a database. " * 40)
    return {"KEYCTL_DATA_DIR": str(tmp_path), "KEYCTL_DATABASE_URL": ""}


def test_a_command_on_a_damaged_file_ends_with_one_line_and_code_1(damaged: dict[str, str]) -> None:
    ended = run_manage("migrate", **damaged)
    assert ended.returncode == 1
    assert ended.stderr == (
        f"keyctl: {damaged['KEYCTL_DATA_DIR']}/keyctl.sqlite3 is not a database, or is damaged. "
        "Put a backup in its place, or move it away.\n"
    )


def test_the_whole_story_is_there_when_asked_for(damaged: dict[str, str]) -> None:
    assert "Traceback (most recent call last)" in run_manage("migrate", "--traceback", **damaged).stderr


def test_the_test_command_hands_pytest_its_arguments_and_returns_its_code(tmp_path: Path) -> None:
    failing = tmp_path / "test_one.py"
    failing.write_text("def test_one(): assert 1 == 2\n")
    ended = run_manage(
        "test", str(failing), "-q", "-c", "/dev/null", "-p", "no:django", "-p", "no:cacheprovider"
    )
    assert ended.returncode == 1
    assert "1 failed" in ended.stdout


def test_the_first_command_of_a_new_installation_finds_no_folder_and_makes_it(tmp_path: Path) -> None:
    """``--plan`` alone, since applying all of them takes a while; it opens the database like the rest."""
    folder = tmp_path / "new" / "data"
    done = run_manage(
        "migrate",
        "--plan",
        DJANGO_SETTINGS_MODULE="keyctl.settings",
        KEYCTL_DATA_DIR=str(folder),
        KEYCTL_SECRETS_DIR=str(tmp_path / "secrets"),
        KEYCTL_DATABASE_URL="",
    )
    assert done.returncode == 0, done.stderr
    assert folder.is_dir()
