"""A SQLite with the WAL-reset fault is refused at the start; the versions are those that sqlite.org names."""

import sqlite3

import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from pytest_django import Settings

from keyctl.lib.sqlite import check_library, is_sound


@pytest.mark.parametrize("version", [(3, 40, 1), (3, 44, 5), (3, 45, 0), (3, 50, 6), (3, 51, 0), (3, 51, 2)])
def test_a_faulty_one_is_refused(
    version: tuple[int, int, int], settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(settings.DATABASES["default"], "ENGINE", "keyctl.lib.gated")
    monkeypatch.setattr(sqlite3, "sqlite_version_info", version)
    with pytest.raises(SystemCheckError, match=r"keyctl\.E002"):
        call_command("check")
    monkeypatch.setitem(settings.DATABASES["default"], "ENGINE", "keyctl.lib.postgresql")
    assert check_library() == []


def test_the_bundled_one_and_the_mended_lines_are_not() -> None:
    assert check_library() == []
    for version in ((3, 44, 6), (3, 44, 9), (3, 50, 7), (3, 51, 3), (3, 53, 4), (4, 0, 0)):
        assert is_sound(version)
