"""``manage.py prove_event NUMBER``: the proof that an entry is in the signed history, as JSON."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keyctl.audit.proofs import prove_entry
from keyctl.lib.errors import Refused


class Command(BaseCommand):
    help = "Print the proof of one entry of the history; keyctl/audit/verifier.py checks it with --proof."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("number", type=int, help="the number of the entry, as receipts give it")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            proof = prove_entry(options["number"])
        except Refused as refusal:
            raise CommandError(" ".join(refusal.sentences)) from None
        self.stdout.write(json.dumps(proof, indent=1, ensure_ascii=False))
