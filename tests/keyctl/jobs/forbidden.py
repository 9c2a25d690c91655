"""What the constraints of jobs, workers and routines forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable

from django.utils import timezone

from keyctl.jobs.models import Routine, WorkerSign
from tests import factories
from tests.cast import Cast


def a_job_that_ended_at_no_time(cast: Cast) -> None:
    factories.make_job(cast.north, actor=cast.locksmith, state="done")


def a_job_that_failed_for_no_reason(cast: Cast) -> None:
    factories.make_job(cast.north, actor=cast.locksmith, state="failed", ended_at=timezone.now())


def a_job_that_nobody_runs(cast: Cast) -> None:
    factories.make_job(cast.north, actor=cast.locksmith, state="running")


def two_job_files_of_one_name(cast: Cast) -> None:
    job = factories.make_job(cast.north, actor=cast.locksmith)
    for _ in range(2):
        factories.make_job_file(job)


def two_signs_of_one_worker(cast: Cast) -> None:
    for _ in range(2):
        WorkerSign.objects.create(name="host:1", seen_at=timezone.now())


def a_routine_kept_twice(cast: Cast) -> None:
    for _ in range(2):
        Routine.objects.create(name="sweep", next_at=timezone.now())


def a_job_about_a_thing_twice(cast: Cast) -> None:
    job = factories.make_job(cast.north, actor=cast.locksmith)
    for _ in range(2):
        job.subjects.create(kind="places.site", subject_id=cast.north.pk)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "job_that_ended_says_when": a_job_that_ended_at_no_time,
    "job_that_failed_says_why": a_job_that_failed_for_no_reason,
    "job_is_run_by_one_run": a_job_that_nobody_runs,
    "job_file_name_is_unique_in_its_job": two_job_files_of_one_name,
    "worker_sign_is_of_one_worker": two_signs_of_one_worker,
    "routine_is_kept_once": a_routine_kept_twice,
    "job_names_a_subject_once": a_job_about_a_thing_twice,
}
