"""``manage.py export_estate FILE``: everything, for another installation, sealed to a passphrase."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keyctl.lib.errors import Refused
from keyctl.operations.archive.asking import passphrase_for_export
from keyctl.operations.archive.container import new_lock
from keyctl.operations.archive.making import make_archive
from keyctl.operations.archive.telling import canonical_digest


class Command(BaseCommand):
    help = (
        "Write the whole estate into one file that another installation imports without loss, bittings and "
        "all. The passphrase is asked for; nothing else opens the file."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, nargs="?")
        parser.add_argument("--passphrase-file", type=Path, metavar="FILE", help="its first line is taken")
        parser.add_argument(
            "--canonical",
            action="store_true",
            help="write no file: tell the SHA-256 of the canonical form, which another installation that "
            "holds the same estate tells too",
        )

    def handle(
        self, *_args: Any, file: Path | None, passphrase_file: Path | None, canonical: bool, **_options: Any
    ) -> None:
        try:
            if canonical:
                self.stdout.write(canonical_digest())
                return
            if file is None:
                raise Refused("Name the file to write.")
            lock = new_lock(passphrase_for_export(passphrase_file))
            made = make_archive(file.absolute(), lock)
        except Refused as refused:
            raise CommandError(" ".join(refused.sentences)) from None
        self.stdout.write(
            f"{made.file}: {made.rows} rows, {made.bytes} bytes, read back to the end. It holds every "
            "bitting: keep it and the passphrase apart.\n"
            f"Canonical form: {made.digest}"
        )
