"""A job from start to end: done, refused, failed, stopped, gone on with."""

import json
import logging
from datetime import date
from typing import Any

import pytest
from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils.translation import get_language, gettext_lazy
from django_tasks_db.models import DBTaskResult

from keyctl.accounts.speaking import speaking
from keyctl.audit.selectors import history_of
from keyctl.jobs import kinds
from keyctl.jobs import running as running_module
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.selectors import failure_shown_to, running_on
from keyctl.jobs.services import cancel_job, resume_job
from keyctl.lib.days import day
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.jobs.conftest import SECRET, Begin, troubles


@pytest.fixture(autouse=True)
def every_step_is_written(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(running_module, "SECONDS_BETWEEN_WRITES", 0.0)


def test_a_started_job_waits_in_the_queue_and_says_so(cast: Cast, begin: Begin) -> None:
    job = begin(subjects=[cast.north], back_url="/systems/")
    assert (job.state, job.label, job.back_url) == (Job.State.WAITING, "Count up", "/systems/")
    assert DBTaskResult.objects.ready().get().args_kwargs == {"args": [str(job.pk)], "kwargs": {}}
    assert history_of(job).get().sentence == "started the job “Count up”"
    assert running_on(cast.auditor, cast.north) == [job]


def test_jobs_of_one_kind_are_told_apart(begin: Begin) -> None:
    assert begin(about="GREAT").label == "Count up: GREAT"


def test_a_kind_is_kept_in_english_and_said_as_the_reader_speaks(begin: Begin) -> None:
    """By a word that Django itself has in German."""
    kinds.register_kind("month", gettext_lazy("January"), kinds.kind_of("count").work)
    with speaking("de"):
        job = begin(kind="month", about="GREAT")
        assert str(job) == "Januar: GREAT"
    assert job.label == str(job) == "January: GREAT"
    assert history_of(job).get().sentence == "started the job “January: GREAT”"


def test_it_ends_with_its_outcome(begin: Begin) -> None:
    job = finish(begin(upto=3))
    assert job.state == Job.State.DONE
    assert job.outcome == {"sentence": "Counted to 3.", "counted": 3}
    assert job.started_at
    assert job.ended_at
    assert job.started_at <= job.ended_at
    assert job.run is None


def test_it_speaks_to_the_person_who_asked(begin: Begin, cast: Cast) -> None:
    cast.locksmith.language, cast.locksmith.dates = "de", "iso"
    cast.locksmith.save()
    heard: list[tuple[str | None, str]] = []
    troubles[2] = lambda _: heard.append((get_language(), day(date(2026, 11, 27))))
    finish(begin())
    assert heard == [("de", "2026-11-27")]
    assert get_language() == settings.LANGUAGE_CODE


def test_a_second_worker_does_not_do_it_again(begin: Begin) -> None:
    job = finish(begin())
    ended = job.ended_at
    assert finish(job).ended_at == ended
    assert job.attempts == 1


def test_progress_is_written_while_it_runs(begin: Begin) -> None:
    seen: list[tuple[int, int, str]] = []

    def look(running: Running) -> None:
        row = Job.objects.get(pk=running.job.pk)
        seen.append((row.done, row.total, row.words))

    troubles[2] = look
    finish(begin(upto=4))
    assert seen == [(2, 4, "number 2")]


def test_writes_are_some_time_apart(begin: Begin, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(running_module, "SECONDS_BETWEEN_WRITES", 3600.0)
    written: list[int] = []
    plain = Running.write_progress

    def write(running: Running) -> None:
        written.append(running.job.done)
        plain(running)

    monkeypatch.setattr(Running, "write_progress", write)
    finish(begin(upto=50))
    assert written == [0, 49]


def test_parameters_and_checkpoint_are_sealed(begin: Begin) -> None:
    job = finish(begin(parameters={"array": SECRET}))
    stored = bytes(job.parameters) + bytes(job.checkpoint or b"")
    assert SECRET.encode() not in stored
    assert b"upto" not in stored
    assert b"done" not in stored
    assert SECRET not in json.dumps(list(DBTaskResult.objects.values_list("args_kwargs", flat=True)))


def test_a_refusal_is_kept_sealed_and_shown_to_who_started_it(cast: Cast, begin: Begin) -> None:
    def refuse(_running: Running) -> None:
        raise Refused(f"The key {SECRET} is out already.", reasons=["Choose another."])

    troubles[1] = refuse
    job = finish(begin())
    assert job.state == Job.State.FAILED
    assert SECRET.encode() not in bytes(job.failure or b"")
    assert failure_shown_to(cast.locksmith, job) == f"The key {SECRET} is out already. Choose another."
    assert SECRET not in failure_shown_to(cast.auditor, job)


def test_an_unexpected_exception_ends_in_a_plain_sentence_and_a_log_without_values(
    cast: Cast, begin: Begin, caplog: pytest.LogCaptureFixture
) -> None:
    def break_down(_running: Running) -> None:
        raise ValueError(f"no depth in {SECRET}")

    troubles[1] = break_down
    with caplog.at_level(logging.ERROR):
        job = finish(begin())
    assert job.state == Job.State.FAILED
    assert "did not expect" in failure_shown_to(cast.locksmith, job)
    assert "ValueError" in caplog.text
    assert "conftest.py" in caplog.text
    assert SECRET not in caplog.text


def test_stopping_a_waiting_job_takes_it_out_of_the_queue(cast: Cast, begin: Begin) -> None:
    job = cancel_job(actor=cast.locksmith, job=begin())
    assert job.state == Job.State.STOPPED
    assert not DBTaskResult.objects.exists()
    assert finish(job).state == Job.State.STOPPED


def test_stopping_a_running_job_and_going_on_starts_at_the_checkpoint(cast: Cast, begin: Begin) -> None:
    def stop(running: Running) -> None:
        cancel_job(actor=cast.officer, job=running.job)

    troubles[2] = stop
    job = finish(begin(upto=6))
    assert (job.state, job.done) == (Job.State.STOPPED, 3)
    began: list[int] = []
    troubles[3] = lambda running: began.append(running.job.run_from or 0)
    job = finish(resume_job(actor=cast.locksmith, job=job))
    assert job.state == Job.State.DONE
    assert began == [3]
    verbs = [event.verb for event in history_of(job).order_by("id")]
    assert verbs == ["job.started", "job.stopped", "job.resumed"]


def test_a_failed_job_goes_on_too(cast: Cast, begin: Begin) -> None:
    def refuse(_running: Running) -> None:
        raise Refused("Not now.")

    troubles[1] = refuse
    job = finish(begin())
    job = finish(resume_job(actor=cast.locksmith, job=job))
    assert (job.state, job.failure) == (Job.State.DONE, None)


@pytest.mark.parametrize("act", [cancel_job, resume_job])
def test_what_is_done_neither_stops_nor_goes_on(cast: Cast, begin: Begin, act: Any) -> None:
    job = finish(begin())
    with pytest.raises(Conflict):
        act(actor=cast.locksmith, job=job)


def test_who_may_stop_it(cast: Cast, begin: Begin) -> None:
    for name, person in cast.everybody.items():
        if name in {"locksmith", "officer", "administrator"}:
            assert cancel_job(actor=person, job=begin()).state == Job.State.STOPPED
        else:
            with pytest.raises((PermissionDenied, Http404)):
                cancel_job(actor=person, job=begin())


def test_only_who_started_it_goes_on_with_it(cast: Cast, begin: Begin) -> None:
    job = cancel_job(actor=cast.officer, job=begin())
    for name, person in cast.everybody.items():
        if name != "locksmith":
            with pytest.raises((PermissionDenied, Http404)):
                resume_job(actor=person, job=job)
    assert resume_job(actor=cast.locksmith, job=job).state == Job.State.WAITING


def test_it_is_not_done_for_somebody_who_left_meanwhile(cast: Cast, begin: Begin) -> None:
    job = begin()
    Membership.objects.filter(user=cast.locksmith).delete()
    job = finish(job)
    assert job.state == Job.State.FAILED
    assert "no role" in failure_shown_to(cast.locksmith, job)


def test_a_requester_and_a_stranger_start_nothing(cast: Cast, begin: Begin) -> None:
    with pytest.raises(PermissionDenied):
        begin(actor=cast.requester)
    with pytest.raises(Http404):
        begin(actor=cast.stranger)


def test_identifiers_and_times_may_stand_in_parameters_and_outcomes(cast: Cast, begin: Begin) -> None:
    def look(running: Running) -> None:
        running.save({"site": cast.north.pk, "done": 2})
        assert running.parameters["site"] == str(cast.north.pk)

    troubles[1] = look
    assert finish(begin(upto=3, parameters={"site": cast.north.pk})).state == Job.State.DONE


def test_long_words_are_cut_to_what_the_page_shows(begin: Begin) -> None:
    troubles[1] = lambda running: running.step(1, 2, "word " * 100)
    job = finish(begin(upto=2, about="x" * 300))
    assert (len(job.words), len(job.label)) == (200, 160)
