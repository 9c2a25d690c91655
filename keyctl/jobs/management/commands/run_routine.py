"""``manage.py run_routine NAME``: do one of the routines now, whether it is due or not."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from keyctl.jobs.routines import run_by_hand
from keyctl.lib.errors import Refused


class Command(BaseCommand):
    help = "Do one routine now: what the worker does by itself when it is due."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="its name, as the page of routines gives it")

    def handle(self, *_args: Any, **options: Any) -> None:
        try:
            routine = run_by_hand(options["name"])
        except Refused as refusal:
            raise CommandError(" ".join(refusal.sentences)) from None
        if routine.failed:
            raise CommandError(routine.last_sentence)
        self.stdout.write(routine.last_sentence)
