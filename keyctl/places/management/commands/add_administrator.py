"""``manage.py add_administrator``: the first person of a new installation."""

from argparse import ArgumentParser
from getpass import getpass
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused
from keyctl.places.services import add_site
from keyctl.vault.ring import make_first_keys
from keyctl.vault.services import make_key_if_missing


class Command(BaseCommand):
    help = "Add a site and the person who administers it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--name", required=True, help="the person's name as others see it")
        parser.add_argument("--site", required=True, help="a short code, such as NORTH")
        parser.add_argument("--site-name", required=True)

    def handle(self, *_args: Any, **options: Any) -> None:
        if User.objects.filter(username=options["username"]).exists():
            raise CommandError(f"There is a {options['username']} already; choose another username.")
        password = self._ask_password()
        make_key_if_missing()
        make_first_keys()
        try:
            with transaction.atomic():
                user = User.objects.create_user(
                    options["username"], display_name=options["name"], password=password
                )
                site = add_site(actor=user, code=options["site"], name=options["site_name"])
        except Refused as refused:
            raise CommandError(refused.message) from None
        self.stdout.write(f"{user} administers {site}.")

    def _ask_password(self) -> str:
        password = getpass("Password: ")
        try:
            validate_password(password)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        if password != getpass("Once more: "):
            raise CommandError("The two passwords differ; nothing was added.")
        return password
