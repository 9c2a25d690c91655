"""Making a backup: written, read back, tried in a scratch database, and only then given its name."""

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from keyctl.audit.checkpoints import Checkpoint
from keyctl.audit.services import record
from keyctl.audit.verifier import read_checkpoints
from keyctl.lib.errors import Refused
from keyctl.operations.backup import folder as kept
from keyctl.operations.backup import keys
from keyctl.operations.backup.container import LineWriter
from keyctl.operations.backup.dumping import as_line, checkpoint_line, dump_table, end_of
from keyctl.operations.backup.snapshot import SNAPSHOT, snapshot
from keyctl.operations.backup.tables import applied_migrations, kept_tables, own_migrations
from keyctl.operations.backup.trying import Trial, try_backup
from keyctl.operations.backup.working_place import working_place

MADE = "backup.made"


@dataclass(frozen=True)
class Made:
    file: Path
    bytes: int
    trial: Trial
    pruned: list[Path]


def make_backup(to: Path | None = None, *, keep: int | None = None, now: datetime | None = None) -> Made:
    """Raises ``Refused``; what was there before stays as it was then."""
    folder, now = kept.chosen(to), now or timezone.now()
    file = folder / kept.name_at(now)
    if file.exists():
        raise Refused(f"{file} was made within this second. It stays.")
    try:
        with working_place() as place, kept.unfinished(file) as draft:
            key = _write(draft, file.name, now)
            trial = try_backup_as(draft, file.name, key, place)
            size = draft.stat().st_size
            draft.replace(file)
            _sync(folder)
        pruned = kept.prune(folder, settings.BACKUP_KEEP if keep is None else keep)
    except OSError as error:
        raise Refused(
            f"The backup could not be written to {folder}: {error.strerror}. Older ones are as they were. "
            "Make room, or mend the folder's permissions."
        ) from error
    made = Made(file, size, trial, pruned)
    _record(made)
    return made


def try_backup_as(draft: Path, name: str, key: bytes, place: Path) -> Trial:
    """A draft is tried under the name that it will have: a backup that bears another is refused."""
    named = place / name
    named.symlink_to(draft)
    return try_backup(named, key, place / "tried")


def lines_of_snapshot(now: datetime) -> Iterator[bytes]:
    """Everything but the last line, of one moment."""
    with snapshot() as connection:
        migrations = applied_migrations(connection)
        if migrations != own_migrations():
            raise Refused(
                "The tables are not those of this program. Run `manage.py migrate` first, or make the backup "
                "with the release that the tables belong to."
            )
        yield as_line({"backup": 1, "migrations": migrations, "made_at": now.isoformat()})
        for table in kept_tables():
            yield from dump_table(table, SNAPSHOT)
        for checkpoint in _checkpoints(connection):
            yield checkpoint_line(checkpoint)


def _write(draft: Path, name: str, now: datetime) -> bytes:
    """Returns the key of the file, so that it can be read back without the secret half."""
    digest = hashlib.sha256()
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        writer = LineWriter(out, name, now.isoformat())
        for line in lines_of_snapshot(now):
            digest.update(line + b"\n")
            writer.write(line)
        writer.write(end_of(digest.digest()))
        writer.finish()
        out.flush()
        os.fsync(out.fileno())
    return writer.key


def _checkpoints(connection: Any) -> list[Checkpoint]:
    """Those over entries of this moment; a later one would be over entries that the backup has not."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT max(number) FROM audit_link")
        last = cursor.fetchone()[0] or 0
    if not settings.CHECKPOINT_DIR.is_dir():
        return []
    return [each for each in read_checkpoints(str(settings.CHECKPOINT_DIR)) if each["size"] <= last]


@transaction.atomic
def _record(made: Made) -> None:
    contents, outcome = made.trial.contents, made.trial.outcome
    words = f"made the backup {made.file.name}: {contents.rows} rows of {len(contents.tables)} tables"
    record(
        actor=None,
        verb=MADE,
        sentence=words,
        detail={
            "file": made.file.name,
            "bytes": made.bytes,
            "rows": contents.rows,
            "made_for": keys.name_of(keys.public_key()),
            "breaches": outcome.number,
            "pruned": [file.name for file in made.pruned],
        },
    )


def _sync(folder: Path) -> None:
    """The name is on the disk too."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
