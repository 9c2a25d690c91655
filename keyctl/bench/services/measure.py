"""How far the breaks of measured pins stand from the shear lines."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.bench.jobs import Job
from keyctl.places.access import require_role
from keyctl.places.roles import Role


@dataclass(frozen=True)
class Measuring:
    job: Job
    residuals: tuple[tuple[engine.Residual, ...], ...]
    tolerance_in: float


def measure_pins(
    *, actor: User, job: Job, measured_in: Sequence[Sequence[float]], tolerance_in: float
) -> Measuring:
    """Each break's distance from the line it belongs to; history knows of it before anything is told."""
    require_role(actor, job.site, Role.LOCKSMITH)
    with transaction.atomic():
        record(
            actor=actor,
            verb="bench.pins_measured",
            sentence=f"measured the pins of {job.name} against the shear lines",
            site_id=job.site.pk,
            subjects=[job.core] if job.core else [],
        )
    return Measuring(job, engine.residuals(job.format.id, measured_in), tolerance_in)
