"""``manage.py break_glass``: a way back in for somebody who lost the second factor, or the password."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from keyctl.accounts.models import User
from keyctl.accounts.services import make_way_back
from keyctl.lib.errors import Refused


class Command(BaseCommand):
    help = "Make a code that lets a named person in anew, once and within half an hour. History tells."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")

    def handle(self, *_args: Any, **options: Any) -> None:
        user = User.objects.filter(username=options["username"]).first()
        if user is None:
            raise CommandError(f"Nobody signs in as {options['username']}.")
        try:
            code = make_way_back(user=user)
        except Refused as refused:
            raise CommandError(refused.message) from None
        self.stdout.write(
            f"Within 30 minutes {user} opens {settings.BASE_URL}{reverse('accounts:way-back')}\n"
            f"and types the sign-in name {user.username}, this code and a new password:\n\n"
            f"    {code}\n\n"
            "All second factors and sessions of this person end with it."
        )
