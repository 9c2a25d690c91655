"""Use the SQLite library that the pysqlite3 wheel bundles.

SQLite 3.7.0 to 3.51.2 can lose a commit when a checkpoint meets a committing writer in WAL mode (the
"WAL-reset" fault described in SQLite's own documentation of write-ahead logging); the library of
current Linux releases is in that range.
"""

import sys

FIRST_SOUND_VERSION = (3, 51, 3)

PRAGMAS = (
    "PRAGMA journal_mode=WAL;"
    "PRAGMA synchronous=FULL;"
    "PRAGMA foreign_keys=ON;"
    "PRAGMA trusted_schema=OFF;"
    "PRAGMA journal_size_limit=67108864;"
)


def use_bundled_library() -> None:
    import pysqlite3

    sys.modules["sqlite3"] = pysqlite3
    sys.modules["sqlite3.dbapi2"] = pysqlite3.dbapi2
