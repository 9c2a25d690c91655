"""``manage.py backup``: everything of one moment, sealed, read back and compared before it bears its name."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from keyctl.lib.errors import Refused
from keyctl.operations.backup import keys
from keyctl.operations.backup.making import make_backup
from keyctl.operations.estate.telling import tell


class Command(BaseCommand):
    help = "Make a backup while people go on working. It holds no vault key and no other secret."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", type=Path, metavar="FOLDER", help="instead of KEYCTL_BACKUP_DIR")
        parser.add_argument("--keep", type=int, help="instead of KEYCTL_BACKUP_KEEP: older ones go")

    def handle(self, *_args: Any, to: Path | None, keep: int | None, **_options: Any) -> None:
        try:
            if keys.make_keys_if_missing():
                self._tell_of_key()
            made = make_backup(to, keep=keep)
        except Refused as refused:
            raise CommandError(" ".join(refused.sentences)) from None
        contents = made.trial.contents
        self.stdout.write(
            f"{made.file}: {contents.rows} rows of {len(contents.tables)} tables, {made.bytes} bytes, read "
            "back and compared."
        )
        for file in made.pruned:
            self.stdout.write(f"Deleted {file.name}: there are enough newer ones.")
        tell(made.trial.outcome, self.stdout.write)

    def _tell_of_key(self) -> None:
        self.stdout.write(
            f"Made {settings.BACKUP_KEY_FILE}, which alone opens backups. Copy it off this machine, and the "
            "vault key too: without them no backup is worth anything. You may take it away altogether and "
            f"leave {settings.BACKUP_PUBLIC_KEY_FILE.name}; drills and restores then want it by --key."
        )
