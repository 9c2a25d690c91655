"""``manage.py vault init`` makes the vault key of a new installation."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from keyctl.vault.services import make_key_if_missing


class Command(BaseCommand):
    help = "Make the key that seals bittings (once per installation)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("act", choices=["init"])

    def handle(self, *_args: Any, **_options: Any) -> None:
        if make_key_if_missing():
            self.stdout.write(
                f"Made {settings.VAULT_KEY_FILE}. Keep a copy away from this machine and its backups."
            )
        else:
            self.stdout.write("There is a vault key already; nothing was changed.")
