"""Two workers reach for one job, or for one dead worker's job, at the same moment."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from keyctl.jobs.models import Job
from keyctl.jobs.reaper import SILENT_FOR, reap
from keyctl.jobs.services import run_job
from tests.keyctl.jobs.conftest import Begin

pytestmark = pytest.mark.django_db(transaction=True)


def both(act: Callable[[], Any]) -> list[Any]:
    """What two threads get, each on a connection of its own, starting together."""
    start = Barrier(2)

    def one(_number: int) -> Any:
        try:
            start.wait()
            return act()
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(one, range(2)))


def test_one_of_them_does_it(begin: Begin) -> None:
    job = begin(upto=3)
    both(lambda: run_job(job.pk))
    job.refresh_from_db()
    assert (job.state, job.attempts) == (Job.State.DONE, 1)


def test_one_of_them_takes_it_from_the_dead(begin: Begin) -> None:
    job = begin()
    DBTaskResult.objects.all().delete()
    silent = timezone.now() - SILENT_FOR - timedelta(seconds=1)
    Job.objects.filter(pk=job.pk).update(
        state=Job.State.RUNNING, run=uuid4(), heartbeat_at=silent, attempts=1, worker="gone:1"
    )
    assert sorted(both(reap)) == [0, 1]
    job.refresh_from_db()
    assert job.state == Job.State.WAITING
    assert DBTaskResult.objects.ready().count() == 1
