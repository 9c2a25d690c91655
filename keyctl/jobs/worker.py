"""The worker: takes jobs from the queue one after the other, and looks after what others left lying."""

import logging
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic, sleep
from types import FrameType
from typing import Any

from django.db import DatabaseError, OperationalError, close_old_connections, connection
from django.utils import timezone
from django_tasks_db.management.commands.db_worker import Worker
from django_tasks_db.models import DBTaskResult

from keyctl.jobs.execution import in_hand, this_worker
from keyctl.jobs.models import Job, WorkerSign
from keyctl.jobs.reaper import reap
from keyctl.jobs.routines import run_due
from keyctl.jobs.running import ending
from keyctl.vault import services as vault

logger = logging.getLogger(__name__)

SECONDS_BETWEEN_LOOKS = 1.0
SECONDS_BETWEEN_ROUNDS = 15.0
SECONDS_BETWEEN_BEATS = 5.0


class OneTask(Worker):
    """The library's worker for a single task, so that our round comes between two of them."""

    took = False

    def __init__(self) -> None:
        super().__init__(
            queue_names=["default"],
            interval=0,
            batch=True,
            backend_name="default",
            startup_delay=False,
            max_tasks=1,
            worker_id=this_worker()[:64],
            excluded_queue_names=[],
        )

    def run_task(self, db_task_result: Any) -> None:
        self.took = True
        super().run_task(db_task_result)


def work(*, until_empty: bool = False, with_parent: bool = False) -> None:
    """Work until told to end; or only until nothing waits, or until the process that started it is gone."""
    rounds_at = float("-inf")
    with pulse(os.getppid() if with_parent else None):
        while not ending.is_asked:
            close_old_connections()
            took = False
            try:
                if monotonic() - rounds_at >= SECONDS_BETWEEN_ROUNDS:
                    reap()
                    run_due()
                    rounds_at = monotonic()
                took = take_one()
            except OperationalError:
                logger.warning("The database is busy or away; looking again.", exc_info=True)
            if until_empty and not took:
                return
            if not took:
                sleep(SECONDS_BETWEEN_LOOKS)


def take_one() -> bool:
    """Do the next task of the queue; False where none waits, or all wait for the key of the vault."""
    # A look costs nothing; taking a task locks the database for a moment.
    if not DBTaskResult.objects.ready().exists() or vault.why_closed():
        return False
    worker = OneTask()
    worker.run()
    return worker.took


def end_on_signals() -> None:
    """At the first signal the job in hand goes back to the queue at its next step; a second one kills."""

    def end(number: int, _frame: FrameType | None) -> None:
        ending.is_asked = True
        signal.signal(number, signal.SIG_DFL)

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, end)


@contextmanager
def pulse(parent: int | None = None) -> Iterator[None]:
    """While it lasts, this worker's jobs are seen to be alive, however long one of their steps takes."""
    beat()
    stop = threading.Event()
    thread = threading.Thread(target=_beat_until, args=(stop, parent), name="pulse", daemon=True)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join()
        WorkerSign.objects.filter(name=this_worker()).delete()


def _beat_until(stop: threading.Event, parent: int | None) -> None:
    while not stop.wait(SECONDS_BETWEEN_BEATS):
        if parent is not None and os.getppid() != parent:
            ending.is_asked = True
        try:
            beat()
        except DatabaseError:
            # Busy or away for a moment; the next beat tells.
            connection.close()
    connection.close()


def beat() -> None:
    """A sign of life of this worker, and of the run it is at."""
    now = timezone.now()
    WorkerSign.objects.update_or_create(name=this_worker(), defaults={"seen_at": now})
    if in_hand.run is not None:
        Job.objects.filter(run=in_hand.run).update(heartbeat_at=now)
