"""``manage.py export_history FILE``: every entry as a line of JSON, for whoever checks it elsewhere."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keyctl.audit import signing, verifier
from keyctl.audit.proofs import export_history
from keyctl.audit.services import record
from keyctl.lib.errors import Refused


class Command(BaseCommand):
    help = "Write the whole history to a file. keyctl/audit/verifier.py checks it on any machine."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *_args: Any, **options: Any) -> None:
        record(actor=None, verb="history.exported", sentence="exported the whole history to a file")
        count = export_history(options["file"])
        self.stdout.write(f"{count} entries in {options['file']}.")
        self.stdout.write(f"{verifier.__file__} checks them on any machine.")
        try:
            self.stdout.write(f"The public key of its checkpoints is {signing.public_key().hex()}.")
        except Refused as refusal:
            raise CommandError(" ".join(refusal.sentences)) from None
