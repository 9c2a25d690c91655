"""``manage.py import_estate FILE``: an archive of another installation into an empty one."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keyctl.lib.errors import Refused
from keyctl.operations.archive.asking import passphrase_for_import
from keyctl.operations.archive.taking import import_archive
from keyctl.operations.estate.telling import tell


class Command(BaseCommand):
    help = (
        "Import an archive into an empty installation, after `manage.py migrate` and with server and workers "
        "stopped: all of it or nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--passphrase-file", type=Path, metavar="FILE", help="its first line is taken")
        parser.add_argument(
            "--accept-breaches",
            action="store_true",
            help="also where the estate breaks laws of its data: it did so where it came from",
        )

    def handle(
        self, *_args: Any, file: Path, passphrase_file: Path | None, accept_breaches: bool, **_options: Any
    ) -> None:
        try:
            passphrase = passphrase_for_import(passphrase_file)
            taken = import_archive(file.absolute(), passphrase, accept_breaches=accept_breaches)
        except Refused as refused:
            raise CommandError(" ".join(refused.sentences)) from None
        self.stdout.write(
            f"Imported {taken.contents.rows} rows, as they were at {taken.contents.made_at}; read again, "
            "they say the same.\n"
            f"Canonical form: {taken.contents.digest}\n"
            "Passwords, second factors, tokens and private addresses stayed behind: let the first person in "
            "with “manage.py break_glass NAME”."
        )
        tell(taken.outcome, self.stdout.write)
