"""The folder of backups: what lies there, how old the newest is, and which ones go."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings

from keyctl.lib.errors import Refused

SUFFIX = ".keyctl-backup"
WRITTEN = "%Y%m%dT%H%M%SZ"
NAME = re.compile(r"keyctl-(\d{8}T\d{6}Z)\.keyctl-backup")
UNFINISHED = ".unfinished"


def name_at(moment: datetime) -> str:
    return f"keyctl-{moment.astimezone(UTC):{WRITTEN}}{SUFFIX}"


def made_at(file: Path) -> datetime:
    return datetime.strptime(NAME.sub(r"\1", file.name), WRITTEN).replace(tzinfo=UTC)


def backups_in(folder: Path) -> list[Path]:
    """Oldest first. Only whole ones have such a name."""
    return sorted(file for file in folder.glob(f"*{SUFFIX}") if NAME.fullmatch(file.name))


def newest_in(folder: Path) -> Path:
    found = backups_in(folder)
    if not found:
        raise Refused(f"There is no backup in {folder}. Run `manage.py backup`, or name a file.")
    return found[-1]


def age_of_newest(now: datetime) -> float | None:
    """Seconds; None where no folder is configured, infinite where it holds none."""
    if settings.BACKUP_DIR is None:
        return None
    found = backups_in(settings.BACKUP_DIR)
    return max(0.0, (now - made_at(found[-1])).total_seconds()) if found else float("inf")


def prune(folder: Path, keep: int) -> list[Path]:
    """All but the newest ``keep`` go; returns those that went."""
    old = backups_in(folder)[: -max(keep, 1)]
    for file in old:
        file.unlink()
    return old


def chosen(folder: Path | None) -> Path:
    """The folder named, else the configured one; refused where keys lie with what they open."""
    found = folder or settings.BACKUP_DIR
    if found is None:
        raise Refused("Name a folder with --to, or in KEYCTL_BACKUP_DIR.")
    found, secrets = Path(found).expanduser().resolve(), settings.SECRETS_DIR
    if found == secrets or secrets in found.parents or found in secrets.parents:
        raise Refused(
            f"{found} and the secrets folder {secrets} lie in each other. Choose another folder: a backup "
            "must not lie beside the keys that open it."
        )
    return found


@contextmanager
def unfinished(file: Path) -> Iterator[Path]:
    """A name to write under; whatever goes wrong, nothing stays under it, nor what a killed process left."""
    draft = file.with_name(f".{file.name}{UNFINISHED}")
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    for left in file.parent.glob(f".keyctl-*{UNFINISHED}"):
        left.unlink(missing_ok=True)
    try:
        yield draft
    finally:
        draft.unlink(missing_ok=True)
