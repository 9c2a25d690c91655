"""A backup tried: read to its end into a scratch database, compared row by row, and held against every law.

Whether it is faithful and whether the estate is sound are two questions: a breach that the database had, its
backup must have too.
"""

import json
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter

from django.db import DatabaseError
from django.db.backends.base.base import BaseDatabaseWrapper

from keyctl.audit.checkpoints import Checkpoint
from keyctl.lib.errors import Refused
from keyctl.operations.backup.container import read_lines
from keyctl.operations.backup.dumping import tally_of
from keyctl.operations.backup.loading import Contents, load
from keyctl.operations.backup.snapshot import scratch_database
from keyctl.operations.backup.tables import kept_tables
from keyctl.operations.looking import Outcome, look_at_everything


@dataclass
class Trial:
    contents: Contents
    outcome: Outcome
    seconds: dict[str, float] = field(default_factory=dict)


def try_backup(file: Path, key: bytes, place: Path) -> Trial:
    """Raises ``Refused`` where the backup is not whole; leaves nothing in ``place``."""
    place.mkdir()
    try:
        began = perf_counter()
        with scratch_database(place, is_alone=True) as scratch:
            contents = load(scratch, read_lines(file, key))
            loaded = perf_counter()
            compare(contents)
            _refuse_unsound(scratch)
            compared = perf_counter()
            checkpoints = place / "checkpoints"
            write_checkpoints(contents.checkpoints, checkpoints)
            outcome = look_at_everything(checkpoints)
        seconds = {"restore": loaded - began, "compare": compared - loaded, "laws": outcome.seconds}
        return Trial(contents, outcome, seconds)
    except DatabaseError as error:
        raise Refused(
            f"The backup does not go into a database ({type(error).__name__}), so it is none. Look for room "
            "in the data folder, and run `manage.py check_estate`."
        ) from error
    finally:
        shutil.rmtree(place, ignore_errors=True)


def compare(contents: Contents) -> None:
    """What was loaded, read again, counts and says the same, table by table."""
    for table in kept_tables():
        found, told = tally_of(table), contents.tables[table.name]
        if found != told:
            raise Refused(
                f"Of {table.name} the backup has {told.rows} rows, and {found.rows} arrived or say something "
                "else. Keep what is there and make another backup."
            )


def write_checkpoints(checkpoints: list[Checkpoint], folder: Path) -> None:
    folder.mkdir(mode=0o755, parents=True, exist_ok=True)
    for each in checkpoints:
        file = folder / f"{each['size']:012}.json"
        if not file.exists():
            file.write_text(json.dumps(each, indent=1), encoding="utf-8")
            file.chmod(0o444)


def _refuse_unsound(connection: BaseDatabaseWrapper) -> None:
    found = list(unsound_pages(connection))
    if found:
        raise Refused(f"The restored database is not sound: {found[0]}")


def unsound_pages(connection: BaseDatabaseWrapper) -> Iterator[str]:
    """What SQLite says of its own file; PostgreSQL keeps checksums of its pages itself."""
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check(25)")
        yield from (words for (words,) in cursor.fetchall() if words != "ok")
