"""The queue in the database: which job is next is the task library's part, the job itself is ours."""

import logging
from uuid import UUID

from django_tasks import task
from django_tasks_db.models import DBTaskResult

logger = logging.getLogger(__name__)


@task
def work_on(job_id: str) -> None:
    """The queue holds the identifier of a job and nothing else of it.

    It keeps the words of an exception that gets this far, and they may hold a bitting: none does.
    """
    from keyctl.jobs.execution import run_job
    from keyctl.lib.traces import trace_without_values

    try:
        run_job(UUID(job_id))
    except Exception as error:
        logger.error("Job %s could not be ended: %s", job_id, trace_without_values(error))


def enqueue(job_id: UUID) -> UUID:
    """Put a job at the end of the queue, within the caller's transaction; returns the place's number."""
    return UUID(str(work_on.enqueue(str(job_id)).id))


def leave(task: UUID | None) -> None:
    """Take a job out of the queue."""
    if task is not None:
        DBTaskResult.objects.filter(pk=task).delete()
