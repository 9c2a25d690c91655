"""Making an archive: written beside its name, read back to its end, and only then given it."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.lib.errors import Refused
from keyctl.operations.archive.container import Lock, read_archive
from keyctl.operations.archive.telling import EXPORTED, Canon, Step, lines_of_snapshot
from keyctl.operations.backup.dumping import as_line
from keyctl.operations.backup.packing import Packer
from keyctl.vault import ring

UNFINISHED = ".unfinished"


@dataclass(frozen=True)
class Made:
    file: Path
    bytes: int
    rows: int
    # Of the canonical lines: another installation that holds the same estate has the same.
    digest: str
    at: datetime


def make_archive(file: Path, lock: Lock, *, actor: User | None = None, step: Step | None = None) -> Made:
    """Raises ``Refused``; a file that is there already stays as it is."""
    _refuse_place(file)
    if ring.current() is None:
        raise Refused("The vault has no data key yet. Run `manage.py vault init` first.")
    try:
        with _unfinished(file) as draft:
            rows, digest = _write(draft, lock, step)
            _read_back(draft, lock, digest)
            size = draft.stat().st_size
            draft.replace(file)
    except OSError as error:
        raise Refused(
            f"The archive could not be written to {file.parent}: {error.strerror}. Make room, or mend the "
            "folder's "
            "permissions."
        ) from error
    made = Made(file, size, rows, digest, timezone.now())
    _record(made, actor)
    return made


def _refuse_place(file: Path) -> None:
    if file.exists():
        raise Refused(f"{file} is there already. Name another file.")
    if settings.SECRETS_DIR in file.resolve().parents:
        raise Refused(f"{settings.SECRETS_DIR} holds this installation's keys. Name a file elsewhere.")


@contextmanager
def _unfinished(file: Path) -> Iterator[Path]:
    """Whatever goes wrong, nothing stays under this name."""
    draft = file.with_name(f".{file.name}{UNFINISHED}")
    draft.unlink(missing_ok=True)
    try:
        yield draft
    finally:
        draft.unlink(missing_ok=True)


def _write(draft: Path, lock: Lock, step: Step | None) -> tuple[int, str]:
    canon, rows = Canon(), 0
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        lock.write_head(out)
        packer = Packer(out, lock.key, lock.digest)
        for line, is_canonical in lines_of_snapshot(step):
            packer.write(line)
            rows += line.startswith(b"[")
            if is_canonical:
                canon.add(line)
        packer.write(as_line({"end": canon.digest}))
        packer.finish()
        out.flush()
        os.fsync(out.fileno())
    return rows, canon.digest


def _read_back(draft: Path, lock: Lock, digest: str) -> None:
    """What the disk kept opens to its end, and that says what was told."""
    last = b""
    for line in read_archive(draft, lock):
        last = line
    if last != as_line({"end": digest}):
        raise Refused(
            "The archive does not read back as it was written. Look at the disk, then make another."
        )


@transaction.atomic
def _record(made: Made, actor: User | None) -> None:
    record(
        actor=actor,
        verb=EXPORTED,
        sentence=f"made an archive of the whole estate: {made.rows} rows with every bitting, sealed",
        detail={"file": made.file.name, "bytes": made.bytes, "rows": made.rows, "digest": made.digest},
    )
