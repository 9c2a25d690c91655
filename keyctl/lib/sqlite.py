"""Use the SQLite library that the pysqlite3 wheel bundles.

SQLite 3.7.0 to 3.51.2 can lose a commit when a checkpoint meets a committing writer in WAL mode (the
"WAL-reset" fault described in SQLite's own documentation of write-ahead logging); the library of
current Linux releases is in that range.
"""

import sys
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error

FIRST_SOUND_VERSION = (3, 51, 3)
MENDED_LINES = ((3, 44, 6), (3, 50, 7))

PRAGMAS = (
    "PRAGMA journal_mode=WAL;"
    "PRAGMA synchronous=FULL;"
    "PRAGMA foreign_keys=ON;"
    "PRAGMA trusted_schema=OFF;"
    "PRAGMA journal_size_limit=67108864;"
)


def check_library(**_facts: Any) -> list[CheckMessage]:
    """For `manage.py check`, and so for every start: the bundled library may have been pushed aside."""
    import sqlite3

    if settings.DATABASES["default"]["ENGINE"].endswith("postgresql") or is_sound(
        sqlite3.sqlite_version_info
    ):
        return []
    words = f"SQLite {sqlite3.sqlite_version} can lose a commit in WAL mode (its WAL-reset fault)."
    return [Error(words, hint="Install the locked packages, which bundle a sound one.", id="keyctl.E002")]


def is_sound(version: tuple[int, ...]) -> bool:
    """The fault was mended in 3.51.3, and in two older lines.

    >>> [is_sound(each) for each in ((3, 51, 2), (3, 51, 3), (3, 53, 0), (3, 50, 7), (3, 50, 6), (3, 44, 6))]
    [False, True, True, True, False, True]
    """
    mended = any(version[:2] == line[:2] and version >= line for line in MENDED_LINES)
    return mended or version >= FIRST_SOUND_VERSION


def use_bundled_library() -> None:
    import pysqlite3

    sys.modules["sqlite3"] = pysqlite3
    sys.modules["sqlite3.dbapi2"] = pysqlite3.dbapi2
