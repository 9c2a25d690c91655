"""``manage.py work``: do the jobs that wait. Several may run, on one machine or on many."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from keyctl.jobs import worker
from keyctl.lib.dumps import refuse_dumps


class Command(BaseCommand):
    help = "Do the long work that was started from pages, and take up what a worker that died left."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--until-empty", action="store_true", help="end when nothing waits")
        parser.add_argument("--with-parent", action="store_true", help="end when who started it is gone")

    def handle(self, *_args: Any, **options: Any) -> None:
        refuse_dumps()
        worker.end_on_signals()
        worker.work(until_empty=options["until_empty"], with_parent=options["with_parent"])
