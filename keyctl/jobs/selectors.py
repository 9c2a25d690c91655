"""Reading jobs: how far, how long still, and what works on a thing."""

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Model, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.jobs.access import may_open_files, visible_jobs
from keyctl.jobs.models import Job, Routine, WorkerSign
from keyctl.jobs.pace import seconds_left
from keyctl.jobs.routines import Kind, routine_kinds
from keyctl.vault import services as vault

# A worker gives a sign every few seconds.
SIGN_HOLDS_FOR = timedelta(seconds=60)
# A routine that is due this long was seen by no worker.
ROUTINE_LATE_AFTER = timedelta(hours=1)
# Before that a job that waits only just came.
LEAST_WAIT = timedelta(seconds=2)
QUARTER = 25


def jobs_of(actor: User, *, only_mine: bool = False) -> QuerySet[Job]:
    """The jobs at the actor's sites, newest first."""
    jobs = visible_jobs(actor)
    return jobs.filter(actor=actor) if only_mine else jobs


def running_on(actor: User, thing: Model) -> list[Job]:
    """The unfinished jobs that work on a thing."""
    return list(visible_jobs(actor).unfinished().about(thing))


def worker_is_missing(job: Job) -> bool:
    """Whether a job waits though no worker has given a sign of life for a while."""
    if job.state != Job.State.WAITING or timezone.now() - job.asked_at < LEAST_WAIT:
        return False
    return not WorkerSign.objects.filter(seen_at__gt=timezone.now() - SIGN_HOLDS_FOR).exists()


def time_left(job: Job) -> timedelta | None:
    """How long it still takes at the pace of the present run; None where that cannot be said."""
    if job.state != Job.State.RUNNING or job.run_at is None:
        return None
    seconds = seconds_left(job.marks, (timezone.now() - job.run_at).total_seconds(), job.total)
    return None if seconds is None else timedelta(seconds=seconds)


def milestone(job: Job) -> str:
    """What a screen reader is told of once: another state, or another quarter of the way."""
    quarter = QUARTER * (job.percent // QUARTER) if job.state == Job.State.RUNNING else 0
    return f"{job.state}-{quarter}"


def failure_shown_to(actor: User, job: Job) -> str:
    """Why it failed; only to who started it or may open its files, since a rule may quote a bitting."""
    if job.failure is None:
        return ""
    if job.actor == actor or may_open_files(actor, job):
        return vault.why_closed() or vault.unseal(job, "failure")
    return _("It could not be done. Why, only the person who started it is shown.")


@dataclass(frozen=True)
class RoutineRow:
    kind: Kind
    routine: Routine | None

    @property
    def is_late(self) -> bool:
        """Due for an hour and done by nobody; of one that never ran nobody knows since when it is due."""
        return self.routine is None or self.routine.next_at < timezone.now() - ROUTINE_LATE_AFTER


def routine_rows() -> list[RoutineRow]:
    """Every routine of this installation, with what came of it last."""
    kept = {routine.name: routine for routine in Routine.objects.all()}
    return [RoutineRow(kind, kept.get(kind.name)) for kind in routine_kinds()]
