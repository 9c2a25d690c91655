"""``manage.py rebuild_search``: forget what is known for the search and read everything again."""

from typing import Any

from django.core.management.base import BaseCommand

from keyctl.search.models import Entry, Stale
from keyctl.search.services import read_what_changed
from keyctl.search.watching import rebuild


class Command(BaseCommand):
    help = "Forget what is known for the search and read everything again. Nothing else changes."

    def handle(self, *_args: Any, **_options: Any) -> None:
        rebuild()
        while Stale.objects.exists():
            read_what_changed()
        self.stdout.write(f"Entries: {Entry.objects.count()}.")
