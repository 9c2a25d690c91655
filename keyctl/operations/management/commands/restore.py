"""``manage.py restore FILE``: a backup back into an empty installation, on SQLite or PostgreSQL."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keyctl.lib.errors import Refused
from keyctl.operations.backup.restoring import WORDS, restore_backup
from keyctl.operations.estate.telling import tell


class Command(BaseCommand):
    help = "Restore a backup into an empty installation, after `manage.py migrate`; everything is checked."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--key", type=Path, metavar="FILE", help="backup.key, if it lies elsewhere")
        parser.add_argument("--signed-by", default="", metavar="KEY", help="the public key that you noted")
        parser.add_argument("--replace", default="", metavar="WORDS", help=f"“{WORDS}”, word for word")

    def handle(self, *_args: Any, file: Path, key: Path | None, **options: Any) -> None:
        try:
            restored = restore_backup(
                file.absolute(), secret=key, replace=options["replace"], signed_by=options["signed_by"]
            )
        except Refused as refused:
            raise CommandError(" ".join(refused.sentences)) from None
        contents = restored.contents
        self.stdout.write(
            f"Restored {contents.rows} rows of {len(contents.tables)} tables, as they were at "
            f"{contents.made_at}. Signed by {contents.signed_by}. Everybody signs in again."
        )
        for sentence in restored.missing:
            self.stdout.write(f"Still missing: {sentence}")
        tell(restored.outcome, self.stdout.write)
