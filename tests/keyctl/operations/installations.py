"""Installations of their own for tests of backups: what they hold is committed, so that others see it."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper
from pytest_django import Settings

from keyctl.operations.backup.snapshot import scratch_database


@contextmanager
def installation(folder: Path, blocker: Any) -> Iterator[BaseDatabaseWrapper]:
    """An empty one on SQLite; inside, it is this thread's default database."""
    folder.mkdir(parents=True, exist_ok=True)
    with blocker.unblock(), scratch_database(folder) as database:
        yield database


def use_folders(settings: Settings, folder: Path) -> None:
    """Every folder and key of the settings, in a place of the test's own."""
    settings.DATA_DIR = folder / "data"
    settings.SECRETS_DIR = folder / "secrets"
    settings.BACKUP_DIR = folder / "backups"
    settings.CHECKPOINT_DIR = folder / "checkpoints"
    settings.HISTORY_KEY_FILE = folder / "secrets" / "history.key"
    settings.BACKUP_KEY_FILE = folder / "secrets" / "backup.key"
    settings.BACKUP_PUBLIC_KEY_FILE = folder / "secrets" / "backup.pub"
