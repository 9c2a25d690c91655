"""Reading the pins that were taken out of a core."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.bench.comparing import Comparison, compare_with_plan, positions_that_differ
from keyctl.bench.jobs import Job
from keyctl.cores.turning import pins_of, turns_by_all
from keyctl.places.access import require_role
from keyctl.places.roles import Role


@dataclass(frozen=True)
class Decoding:
    """What the pins are for; for a known core also how they compare with the records."""

    job: Job
    reading: engine.Reading
    comparison: Comparison | None = None
    # None where the records hold no pins to compare with.
    differing: tuple[int, ...] | None = None

    @property
    def stacks(self) -> str:
        """The pins as text, for the form that records them."""
        return engine.dump(self.reading.pinning)


def decode_pins(
    *,
    actor: User,
    job: Job,
    stacks: str | None = None,
    measured_in: Sequence[Sequence[float]] | None = None,
    tolerance_in: float = 0.002,
) -> Decoding:
    """Cuts from pins, by kit numbers or by measured lengths; history knows of it before anything is told."""
    require_role(actor, job.site, Role.LOCKSMITH)
    _record(actor, job)
    reading = engine.read_stacks(
        job.format.id, stacks=stacks, measured_in=measured_in, tolerance_in=tolerance_in
    )
    if job.core is None:
        return Decoding(job, reading)
    comparison = compare_with_plan(actor, job.core, turns_by_all(job.core, reading.pinning))
    if not job.core.is_pinned:
        return Decoding(job, reading, comparison)
    return Decoding(job, reading, comparison, positions_that_differ(reading.pinning, pins_of(job.core)))


@transaction.atomic
def _record(actor: User, job: Job) -> None:
    compared = " and compared them with the records" if job.core else ""
    record(
        actor=actor,
        verb="bench.pins_read",
        sentence=f"read the pins taken out of {job.name}{compared}",
        site_id=job.site.pk,
        subjects=[job.core] if job.core else [],
    )
