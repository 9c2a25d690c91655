"""``manage.py check_estate``: every law against all data; ends with 1 where one is broken."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keyctl.lib.laws import known_laws
from keyctl.operations.estate.checking import check_estate
from keyctl.operations.estate.telling import tell


class Command(BaseCommand):
    help = "Hold all data against every law of the product: " + "; ".join(law.words for law in known_laws())

    def handle(self, *_args: Any, **_options: Any) -> None:
        number = tell(check_estate(), self.stdout.write)
        if number:
            raise CommandError(f"{number} breaches. Nothing was changed.")
