"""How this installation is guarded, a line for each check: for whatever watches the machine."""

import json
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from keyctl.operations.posture.finding import Row
from keyctl.operations.posture.rows import rows, worst


class Command(BaseCommand):
    help = "Tell how this installation is guarded. Ends with 0: in order, 1: look at it, 2: act now."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="one object for each check, on one line")

    def handle(self, *_args: Any, **options: Any) -> None:
        found = rows()
        for row in found:
            self.stdout.write(as_json(row) if options["json"] else as_line(row))
        if code := int(worst(found)):
            sys.exit(code)


def as_line(row: Row) -> str:
    line = f"{row.level.words:<10}  {row.check.name}: {row.finding.words}"
    return f"{line} {row.remedy}".rstrip()


def as_json(row: Row) -> str:
    facts = {
        "check": row.check.name,
        "level": int(row.level),
        "found": row.finding.words,
        "remedy": row.remedy,
    }
    return json.dumps(facts, ensure_ascii=False)
