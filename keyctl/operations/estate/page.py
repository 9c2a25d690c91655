"""What the page tells of the data: the last looks, what they found, backups and drills."""

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings

from keyctl.accounts.models import User
from keyctl.audit.models import Event
from keyctl.lib.laws import known_laws
from keyctl.operations.backup.drilling import DRILLED
from keyctl.operations.backup.folder import backups_in, made_at
from keyctl.operations.models import EstateCheck
from keyctl.operations.posture.access import READERS
from keyctl.places.models import Site

CHECKS, BACKUPS = 10, 10


@dataclass(frozen=True)
class StateOfData:
    last: EstateCheck | None
    checks: list[EstateCheck]
    breaches: list[dict[str, Any]]
    # Whether places are named: one may be of a site that the reader does not know.
    names_places: bool
    laws: list[str]
    folder: Path | None
    backups: list[dict[str, Any]]
    drills: list[Event]


def state_of_data(actor: User) -> StateOfData:
    """The reader passed ``require_reader``."""
    checks = list(EstateCheck.objects.all()[:CHECKS])
    last = checks[0] if checks else None
    return StateOfData(
        last=last,
        checks=checks,
        breaches=last.breaches if last else [],
        names_places=_answers_everywhere(actor),
        laws=[law.words for law in known_laws()],
        folder=settings.BACKUP_DIR,
        backups=_backups(settings.BACKUP_DIR) if settings.BACKUP_DIR else [],
        drills=list(Event.objects.filter(verb=DRILLED).order_by("-at", "-id")[:3]),
    )


def _answers_everywhere(actor: User) -> bool:
    return not Site.objects.exclude(pk__in=Site.objects.for_roles(actor, *READERS)).exists()


def _backups(folder: Path) -> list[dict[str, Any]]:
    """Newest first."""
    found = []
    for file in reversed(backups_in(folder)[-BACKUPS:]):
        with suppress(OSError):  # a newer one may push it out this moment
            found.append({"name": file.name, "at": made_at(file), "bytes": file.stat().st_size})
    return found
