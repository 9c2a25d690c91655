"""Workers die; their jobs do not."""

import os
import signal
import subprocess
import sys
from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import OperationalError
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from keyctl.jobs import execution
from keyctl.jobs import running as running_module
from keyctl.jobs.execution import in_hand, this_worker
from keyctl.jobs.models import Job, JobFile, WorkerSign
from keyctl.jobs.queue import leave
from keyctl.jobs.reaper import FILES_KEPT_FOR, MOST_ATTEMPTS, SILENT_FOR, died_here, reap
from keyctl.jobs.running import Overtaken, Running, ending
from keyctl.jobs.selectors import failure_shown_to
from keyctl.jobs.services import cancel_job
from keyctl.jobs.worker import beat, pulse, take_one
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.jobs.conftest import SECRET, Begin, troubles

# The library's worker opens and closes connections, which a test's own transaction would not survive.
with_a_worker = pytest.mark.django_db(transaction=True)


class Killed(BaseException):
    """As if the process had been killed: nothing after it runs."""


@pytest.fixture(autouse=True)
def every_step_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(running_module, "SECONDS_BETWEEN_WRITES", 0.0)


def die(_running: Running) -> None:
    raise Killed


def kill_at(job: Job, number: int) -> Job:
    troubles[number] = die
    with pytest.raises(Killed):
        finish(job)
    job.refresh_from_db()
    return job


def fall_silent(job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(heartbeat_at=timezone.now() - SILENT_FOR - timedelta(seconds=1))


@with_a_worker
def test_a_job_whose_worker_died_goes_on_from_its_checkpoint(begin: Begin) -> None:
    job = kill_at(begin(upto=6), 3)
    assert job.state == Job.State.RUNNING
    assert reap() == 0  # its heart beat a moment ago
    fall_silent(job)
    assert reap() == 1
    began: list[int] = []
    troubles[4] = lambda running: began.append(running.job.run_from or 0)
    while take_one():
        pass
    job.refresh_from_db()
    assert (job.state, job.attempts) == (Job.State.DONE, 2)
    assert began == [4]


@with_a_worker
def test_a_job_whose_worker_died_before_the_clock_was_set_back_is_not_left(begin: Begin) -> None:
    job = kill_at(begin(upto=6), 3)
    Job.objects.filter(pk=job.pk).update(heartbeat_at=timezone.now() + timedelta(hours=1))
    assert reap(lambda _worker: False) == 1


def test_a_dead_process_of_this_machine_is_known_at_once() -> None:
    child = subprocess.Popen([sys.executable, "-c", ""])
    child.wait()
    host = this_worker().rpartition(":")[0]
    assert died_here(f"{host}:{child.pid}")
    assert not died_here(f"{host}:{os.getppid()}")
    assert not died_here(this_worker())
    assert not died_here(f"another-{host}:{child.pid}")


def test_a_job_that_lost_the_database_is_taken_up_again(
    begin: Begin, caplog: pytest.LogCaptureFixture
) -> None:
    def lose(_running: Running) -> None:
        raise OperationalError("database is locked")

    troubles[2] = lose
    job = finish(begin(upto=5))
    assert job.state == Job.State.RUNNING
    assert "lost the database" in caplog.text
    fall_silent(job)
    assert reap() == 1
    assert finish(job).state == Job.State.DONE


@with_a_worker
def test_a_worker_gives_signs_of_life_and_takes_its_leave() -> None:
    with pulse():
        sign = WorkerSign.objects.get()
        assert sign.name == this_worker()
        beat()
        assert WorkerSign.objects.get().seen_at > sign.seen_at
    assert not WorkerSign.objects.exists()


def test_the_pulse_beats_only_for_the_run_in_hand(begin: Begin, monkeypatch: pytest.MonkeyPatch) -> None:
    held: list[object] = []
    troubles[1] = lambda running: held.append(in_hand.run == running.job.run)
    finish(begin())
    assert held == [True]
    assert in_hand.run is None


@with_a_worker
def test_the_queue_keeps_no_words_of_an_exception(begin: Begin, monkeypatch: pytest.MonkeyPatch) -> None:
    def break_down(*_facts: object, **_more: object) -> None:
        raise ValueError(SECRET)

    begin()
    monkeypatch.setattr(execution, "_do", break_down)
    monkeypatch.setattr(execution, "_fail", break_down)
    assert take_one()
    assert SECRET not in repr(DBTaskResult.objects.values())


def test_after_some_deaths_it_is_not_tried_again(cast: Cast, begin: Begin) -> None:
    job = begin(upto=20)
    for number in range(MOST_ATTEMPTS):
        job = kill_at(job, 2 * number + 1)
        fall_silent(job)
        assert reap() == 1
        job.refresh_from_db()
    assert job.state == Job.State.FAILED
    assert "died" in failure_shown_to(cast.locksmith, job)


def test_a_job_that_was_to_stop_when_its_worker_died_is_stopped(cast: Cast, begin: Begin) -> None:
    job = kill_at(begin(), 1)
    cancel_job(actor=cast.locksmith, job=job)
    fall_silent(job)
    reap()
    job.refresh_from_db()
    assert job.state == Job.State.STOPPED


def test_a_worker_given_up_for_dead_writes_nothing_any_more(begin: Begin) -> None:
    def overtaken(running: Running) -> None:
        Job.objects.filter(pk=running.job.pk).update(run=uuid4(), words="the other one's")
        with pytest.raises(Overtaken):
            running.attach("list.txt", "text/plain", b"")
        running.save({"done": 99})

    troubles[1] = overtaken
    job = finish(begin())
    assert (job.state, job.words) == (Job.State.RUNNING, "the other one's")
    assert not JobFile.objects.exists()


@with_a_worker
def test_a_worker_that_ends_in_good_order_gives_its_job_back(
    begin: Begin, monkeypatch: pytest.MonkeyPatch
) -> None:
    troubles[1] = lambda _running: monkeypatch.setattr(ending, "is_asked", True)
    job = finish(begin())
    assert (job.state, job.attempts, job.done) == (Job.State.WAITING, 0, 2)
    monkeypatch.setattr(ending, "is_asked", False)
    assert take_one()
    job.refresh_from_db()
    assert job.state == Job.State.DONE


@with_a_worker
def test_a_job_that_lost_its_place_in_the_queue_gets_a_new_one(begin: Begin) -> None:
    job = begin()
    leave(job.task)
    reap()
    assert DBTaskResult.objects.ready().count() == 1
    reap()
    assert DBTaskResult.objects.ready().count() == 1
    assert take_one()
    job.refresh_from_db()
    assert job.state == Job.State.DONE


@with_a_worker
def test_the_command_does_what_waits_and_ends(begin: Begin) -> None:
    jobs = [begin(upto=2), begin(upto=3)]
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        call_command("work", until_empty=True)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    assert [Job.objects.get(pk=job.pk).state for job in jobs] == ["done", "done"]
    assert set(DBTaskResult.objects.values_list("status", flat=True)) == {"SUCCESSFUL"}


@with_a_worker
def test_files_and_finished_places_are_thrown_away_after_some_days(begin: Begin) -> None:
    finish(begin(parameters={"file": "words"}))
    take_one()
    reap()
    assert JobFile.objects.count() == 1
    long_ago = timezone.now() - FILES_KEPT_FOR - timedelta(hours=1)
    JobFile.objects.update(made_at=long_ago)
    DBTaskResult.objects.update(finished_at=long_ago)
    reap()
    assert not JobFile.objects.exists()
    assert not DBTaskResult.objects.exists()
