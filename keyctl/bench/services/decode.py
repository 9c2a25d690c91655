"""Reading the pins that were taken out of a core."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.urls import reverse

from keyctl import engine
from keyctl.accounts.fresh import FreshSignIn, SignInAgain
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.bench.comparing import Comparison, compare_with_plan, positions_that_differ
from keyctl.bench.jobs import Job
from keyctl.cores.turning import pins_of, turns_by_all
from keyctl.places.access import require_role
from keyctl.places.roles import Role
from keyctl.reveals.services import reveal_one
from keyctl.reveals.things import Secret


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
    sign_in: FreshSignIn | None = None,
) -> Decoding:
    """Cuts from pins, by kit numbers or by measured lengths; history knows of it before anything is told.

    Held against the pins on record it counts like a look: who asks often enough finds out what they are.
    """
    require_role(actor, job.site, Role.LOCKSMITH)
    core = job.core
    if core is None or not core.is_pinned:
        _record(actor, job)
        return _decoded(actor, job, stacks, measured_in, tolerance_in)
    if sign_in is None:
        raise SignInAgain
    question = Secret(
        kind="read-pins",
        thing=core,
        words=f"how the pins taken out of {job.name} compare with the records",
        sites=(core.site,),
        open=lambda: _decoded(actor, job, stacks, measured_in, tolerance_in),
        verb="bench.pins_read",
        url=reverse("cores:detail", args=[core.pk]),
        is_question=True,
        sentence=_sentence(job),
    )
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: question)


def _decoded(
    actor: User,
    job: Job,
    stacks: str | None,
    measured_in: Sequence[Sequence[float]] | None,
    tolerance_in: float,
) -> Decoding:
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
    record(
        actor=actor,
        verb="bench.pins_read",
        sentence=_sentence(job),
        site_id=job.site.pk,
        subjects=[job.core] if job.core else [],
    )


def _sentence(job: Job) -> str:
    compared = " and compared them with the records" if job.core else ""
    return f"read the pins taken out of {job.name}{compared}"
