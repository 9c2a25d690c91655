"""The drill: the newest backup brought back in a scratch place, as it would be on the day it is needed.

Unlike the trial of a new backup it opens the file with the secret half, so it proves that there is a key.
"""

from dataclasses import dataclass
from pathlib import Path
from time import perf_counter

from django.db import transaction

from keyctl.audit.services import record
from keyctl.operations.backup import folder as kept
from keyctl.operations.backup.container import open_key
from keyctl.operations.backup.trying import Trial, try_backup
from keyctl.operations.backup.working_place import working_place

DRILLED = "backup.drilled"


@dataclass(frozen=True)
class Drill:
    file: Path
    trial: Trial
    seconds: float


def drill(file: Path | None = None, *, folder: Path | None = None, secret: Path | None = None) -> Drill:
    """Raises ``Refused`` where the backup cannot be brought back; that is not recorded as a drill."""
    began = perf_counter()
    file = file or kept.newest_in(kept.chosen(folder))
    key = open_key(file, secret)
    with working_place() as place:
        trial = try_backup(file, key, place / "tried")
    done = Drill(file, trial, perf_counter() - began)
    _record(done)
    return done


@transaction.atomic
def _record(done: Drill) -> None:
    outcome = done.trial.outcome
    record(
        actor=None,
        verb=DRILLED,
        sentence=f"brought the backup {done.file.name} back in a scratch place: {outcome.words}"[:400],
        detail={
            "file": done.file.name,
            "rows": done.trial.contents.rows,
            "seconds": round(done.seconds, 1),
            "breaches": outcome.number,
            "left_out": sorted(outcome.left_out),
        },
    )
