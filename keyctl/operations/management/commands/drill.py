"""``manage.py drill``: the newest backup brought back in a scratch place, with every check, and timed."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keyctl.lib.errors import Refused
from keyctl.operations.backup.drilling import drill
from keyctl.operations.estate.telling import tell


class Command(BaseCommand):
    help = "Try whether the newest backup (or FILE) can be brought back; nothing here is changed."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, nargs="?")
        parser.add_argument("--from", dest="folder", type=Path, help="instead of KEYCTL_BACKUP_DIR")
        parser.add_argument("--key", type=Path, metavar="FILE", help="backup.key, if it lies elsewhere")

    def handle(
        self, *_args: Any, file: Path | None, folder: Path | None, key: Path | None, **_options: Any
    ) -> None:
        try:
            done = drill(file and file.absolute(), folder=folder, secret=key)
        except Refused as refused:
            raise CommandError(" ".join(refused.sentences)) from None
        contents = done.trial.contents
        self.stdout.write(
            f"{done.file.name}, made at {contents.made_at}: {contents.rows} rows are all there."
        )
        for step, seconds in done.trial.seconds.items():
            self.stdout.write(f"  {step}: {seconds:.1f} s")
        self.stdout.write(f"  together: {done.seconds:.1f} s")
        number = tell(done.trial.outcome, self.stdout.write)
        if number:
            raise CommandError(f"The backup comes back as it was, and has {number} breaches of the laws.")
        if done.trial.outcome.left_out:
            raise CommandError("The backup comes back as it was, but not all of it was looked at: see above.")
