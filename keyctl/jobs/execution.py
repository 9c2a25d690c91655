"""Running one job from claim to end. No exception leaves: a queue would write its words down."""

import logging
import os
import socket
from typing import Any
from uuid import UUID, uuid4

from django.core.exceptions import PermissionDenied
from django.db import OperationalError, transaction
from django.http import Http404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.speaking import speaking_to
from keyctl.jobs.kinds import find_kind
from keyctl.jobs.models import Job
from keyctl.jobs.queue import enqueue
from keyctl.jobs.running import Cancelled, Overtaken, Running, WorkerEnds
from keyctl.lib.errors import Refused
from keyctl.lib.traces import trace_without_values
from keyctl.places.access import has_role
from keyctl.places.roles import STAFF
from keyctl.vault import services as vault
from keyctl.vault.errors import Sealed

logger = logging.getLogger(__name__)

UNEXPECTED = gettext_lazy(
    "Something went wrong that the program did not expect. What was done before is kept; try it once more, "
    "and if it fails again, tell who runs this installation the number of the job."
)


class InHand:
    """The run that this process is at: while it is, the worker's pulse beats for it."""

    run: UUID | None = None


in_hand = InHand()


def run_job(job_id: UUID) -> None:
    """What the worker calls: do the job if it still waits, and write down what came of it."""
    job = _claim(job_id)
    if job is None:
        return
    in_hand.run = job.run
    try:
        # What comes of it, and the papers that it makes, speak to the person who asked.
        with speaking_to(job.actor):
            _carry_out(job)
    finally:
        in_hand.run = None


def _carry_out(job: Job) -> None:
    try:
        outcome = _do(job)
    except Cancelled:
        _end(job, Job.State.STOPPED)
    except (WorkerEnds, Sealed):
        # Where the vault's key is missing, no worker takes a job until it is back.
        give_back(job)
    except OperationalError as error:
        # The database was busy or away for too long. Nothing is written now: the reaper takes the job up.
        logger.warning("Job %s (%s) lost the database: %s", job.pk, job.kind, trace_without_values(error))
    except Overtaken:
        logger.warning("Job %s was taken over by another worker; this one let go of it.", job.pk)
    except Refused as refusal:
        _fail(job, " ".join(refusal.sentences))
    except Exception as error:
        logger.error("Job %s (%s) failed: %s", job.pk, job.kind, trace_without_values(error))
        _fail(job, str(UNEXPECTED))
    else:
        job.done = job.total
        _end(job, Job.State.DONE, outcome=outcome)


def this_worker() -> str:
    return f"{socket.gethostname()}:{os.getpid()}"


@transaction.atomic
def _claim(job_id: UUID) -> Job | None:
    jobs = Job.objects.select_for_update(of=("self",)).select_related("actor", "site")
    job = jobs.filter(pk=job_id, state=Job.State.WAITING).first()
    if job is None:
        return None
    now = timezone.now()
    job.state, job.run, job.worker = Job.State.RUNNING, uuid4(), this_worker()
    job.heartbeat_at = job.run_at = now
    job.started_at = job.started_at or now
    job.run_from, job.marks = None, []
    job.attempts += 1
    job.save(
        update_fields=[
            *(
                "state",
                "run",
                "worker",
                "heartbeat_at",
                "run_at",
                "started_at",
                "run_from",
                "marks",
                "attempts",
            )
        ]
    )
    return job


def _do(job: Job) -> dict[str, Any]:
    kind = find_kind(job.kind)
    if kind is None:
        raise Refused(
            _("This installation no longer knows the work “{work}”. Start it anew.").format(work=job.label)
        )
    if not job.actor.is_active or not has_role(job.actor, job.site, *STAFF):
        raise Refused(
            _("{actor} has no role at {site} any more; somebody who has must start it anew.").format(
                actor=job.actor, site=job.site
            )
        )
    running = Running(job)
    try:
        outcome = kind.work(running)
    except (PermissionDenied, Http404):
        raise Refused(
            _(
                "{actor} no longer has the role that this work needs; somebody who has must start it anew."
            ).format(actor=job.actor)
        ) from None
    running.write_progress()
    return outcome


def give_back(job: Job) -> None:
    """Back to the queue, to be gone on with; a worker that ends in good order is no failed attempt."""
    with transaction.atomic():
        released = Job.objects.filter(pk=job.pk, run=job.run, state=Job.State.RUNNING).update(
            state=Job.State.WAITING, run=None, attempts=max(0, job.attempts - 1), task=enqueue(job.pk)
        )
    if not released:
        _end(job, Job.State.STOPPED)


def _fail(job: Job, sentence: str) -> None:
    _end(job, Job.State.FAILED, failure=vault.seal(job, "failure", sentence))


def _end(job: Job, state: Job.State, **facts: Any) -> None:
    """The last write of a run; where another run has the job by now, it writes nothing."""
    facts |= {"done": job.done, "total": job.total, "words": job.words}
    Job.objects.filter(pk=job.pk, run=job.run).update(state=state, run=None, ended_at=timezone.now(), **facts)
