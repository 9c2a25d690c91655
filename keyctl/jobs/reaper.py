"""Taking up what was left lying: jobs of workers that died, places lost in the queue, files of past days."""

import os
import socket
from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django_tasks_db.models import DBTaskResult

from keyctl.jobs.models import Job, JobFile, WorkerSign
from keyctl.jobs.queue import enqueue, leave
from keyctl.vault import services as vault

# A worker's pulse beats every few seconds; this long without one and it is given up for dead.
SILENT_FOR = timedelta(seconds=90)
MOST_ATTEMPTS = 3
FILES_KEPT_FOR = timedelta(days=7)
QUEUE_KEPT_FOR = timedelta(days=1)

GAVE_UP = gettext_lazy(
    "The worker died {attempts} times at this job; it is not tried again by itself. "
    "What was done is kept. Ask who runs this installation what the worker's log says, then go on with it."
)


def reap(is_dead: Callable[[str], bool] | None = None) -> int:
    """One round; returns how many jobs were taken from dead workers."""
    is_dead = is_dead or died_here
    taken = sum(_take(job) for job in _unfinished_runs() if _is_silent(job) or is_dead(job.worker))
    _queue_again()
    _throw_away()
    return taken


def died_here(worker: str) -> bool:
    """True where the worker ran on this very machine and its process is gone: no need to wait for silence."""
    host, _, number = worker.rpartition(":")
    if host != socket.gethostname() or not number.isdigit() or int(number) == os.getpid():
        return False
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return True
    except PermissionError:
        return False
    return False


def _unfinished_runs() -> QuerySet[Job]:
    return Job.objects.filter(state__in=[Job.State.RUNNING, Job.State.STOPPING]).only(
        "worker", "heartbeat_at"
    )


def _is_silent(job: Job) -> bool:
    """No beat for long; or one that is to come, from before the clock was set back."""
    if job.heartbeat_at is None:
        return True
    return abs(timezone.now() - job.heartbeat_at) > SILENT_FOR


@transaction.atomic
def _take(found: Job) -> bool:
    """Back to the queue, to go on from the checkpoint. The dead run's mark goes: it writes nothing more."""
    runs = Job.objects.select_for_update().filter(
        pk=found.pk, run__isnull=False, heartbeat_at=found.heartbeat_at
    )
    job = runs.first()
    if job is None:
        return False
    leave(job.task)
    job.run = None
    if job.state == Job.State.STOPPING:
        job.state, job.ended_at = Job.State.STOPPED, timezone.now()
    elif job.attempts >= MOST_ATTEMPTS and not vault.why_closed():
        job.state, job.ended_at = Job.State.FAILED, timezone.now()
        job.failure = vault.seal(job, "failure", str(GAVE_UP).format(attempts=MOST_ATTEMPTS))
    else:
        job.state, job.task = Job.State.WAITING, enqueue(job.pk)
    job.save(update_fields=["run", "state", "ended_at", "failure", "task"])
    return True


def _queue_again() -> None:
    """A job that waits and has no place in the queue would wait for ever."""
    waiting = Job.objects.filter(state=Job.State.WAITING)
    for pk in list(waiting.exclude(task__in=_places()).values_list("pk", flat=True)):
        with transaction.atomic():
            job = waiting.select_for_update().filter(pk=pk).exclude(task__in=_places()).first()
            if job:
                job.task = enqueue(job.pk)
                job.save(update_fields=["task"])


def _places() -> Any:
    return DBTaskResult.objects.ready().values("pk")


def _throw_away() -> None:
    now = timezone.now()
    JobFile.objects.filter(made_at__lt=now - FILES_KEPT_FOR).delete()
    WorkerSign.objects.filter(seen_at__lt=now - QUEUE_KEPT_FOR).delete()
    DBTaskResult.objects.finished().filter(finished_at__lt=now - QUEUE_KEPT_FOR).delete()
