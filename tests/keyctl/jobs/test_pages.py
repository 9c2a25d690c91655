"""The pages of jobs."""

from datetime import timedelta

import pytest
from django.template import Context, Template
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone

from keyctl.jobs import kinds
from keyctl.jobs.models import Job, WorkerSign
from keyctl.jobs.running import Running
from keyctl.jobs.selectors import time_left
from keyctl.jobs.templatetags import job_words
from keyctl.jobs.templatetags.job_words import about, fact, rough_time
from keyctl.lib.errors import Refused
from tests import factories
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.jobs.conftest import SECRET, Begin, troubles
from tests.signing import sign_in


def address(job: Job) -> str:
    return reverse("jobs:detail", args=[job.pk])


def test_the_list_shows_the_jobs_of_my_sites_or_only_mine(cast: Cast, begin: Begin, client: Client) -> None:
    begin()
    factories.make_job(cast.south, actor=cast.stranger, label="Of another site")
    factories.make_job(cast.north, actor=cast.officer, label="The officer's")
    sign_in(client, cast.locksmith)
    page = client.get(reverse("jobs:list"))
    assert {job.label for job in page.context["page"]} == {"Count up", "The officer's"}
    mine = client.get(reverse("jobs:list"), {"whose": "mine"})
    assert {job.label for job in mine.context["page"]} == {"Count up"}


def test_an_unfinished_job_asks_for_itself_anew(cast: Cast, begin: Begin, client: Client) -> None:
    job = begin()
    sign_in(client, cast.locksmith)
    assert 'hx-trigger="every 1s"' in client.get(address(job)).content.decode()
    piece = client.get(address(job), headers={"HX-Request": "true"}).content.decode()
    assert 'hx-trigger="every 1s"' in piece
    assert "<html" not in piece
    assert "<form" not in piece  # a question that stands open keeps its form
    finish(job)
    assert client.get(address(job), headers={"HX-Request": "true"}).headers["HX-Refresh"] == "true"
    page = client.get(address(job)).content.decode()
    assert 'hx-trigger="every' not in page
    assert "Counted to 5." in page


def test_a_job_that_waits_for_no_worker_says_so(cast: Cast, begin: Begin, client: Client) -> None:
    job, now = begin(), timezone.now()
    sign_in(client, cast.locksmith)
    words = "No worker has been seen"
    assert words not in client.get(address(job)).content.decode()  # it waits for a moment only
    Job.objects.filter(pk=job.pk).update(asked_at=now - timedelta(seconds=20))
    assert words in client.get(address(job)).content.decode()
    WorkerSign.objects.create(name="host:1", seen_at=now)
    assert words not in client.get(address(job)).content.decode()
    WorkerSign.objects.update(seen_at=now - timedelta(minutes=5))
    assert words in client.get(address(job)).content.decode()
    finish(job)
    assert words not in client.get(address(job)).content.decode()


def test_without_scripts_there_is_a_link_to_look_again(cast: Cast, begin: Begin, client: Client) -> None:
    job = begin()
    sign_in(client, cast.auditor)
    page = client.get(address(job)).content.decode()
    assert f'href="{address(job)}">Refresh</a>' in page
    assert reverse("jobs:cancel", args=[job.pk]) not in page


def test_stop_and_go_on_from_the_page(cast: Cast, begin: Begin, client: Client) -> None:
    job = begin()
    sign_in(client, cast.locksmith)
    client.post(reverse("jobs:cancel", args=[job.pk]))
    job.refresh_from_db()
    assert job.state == Job.State.STOPPED
    assert reverse("jobs:resume", args=[job.pk]) in client.get(address(job)).content.decode()
    client.post(reverse("jobs:resume", args=[job.pk]))
    assert finish(job).state == Job.State.DONE


def test_a_rule_that_quotes_a_bitting_is_not_shown_to_an_auditor(
    cast: Cast, begin: Begin, client: Client
) -> None:
    def refuse(_running: Running) -> None:
        raise Refused(f"The key {SECRET} is out already.")

    troubles[1] = refuse
    job = finish(begin())
    sign_in(client, cast.auditor)
    assert SECRET not in client.get(address(job)).content.decode()
    sign_in(client, cast.locksmith)
    assert SECRET in client.get(address(job)).content.decode()


def test_a_file_is_offered_to_those_who_may_open_it(cast: Cast, begin: Begin, client: Client) -> None:
    job = finish(begin(parameters={"file": "words"}))
    offered = reverse("jobs:file", args=[job.files.get().pk])
    for name, person in cast.everybody.items():
        sign_in(client, person)
        shown = offered in client.get(address(job)).content.decode()
        assert shown is (name in {"locksmith", "officer"})


def test_a_thing_says_what_works_on_it(cast: Cast, begin: Begin) -> None:
    job = begin(subjects=[cast.north])
    request = RequestFactory().get("/")
    request.user = cast.auditor
    context = Context({"request": request, "site": cast.north})
    template = Template("{% load job_words %}{% running_on site %}")
    assert address(job) in template.render(context)
    finish(job)
    assert template.render(context).strip() == ""


def watched(**facts: object) -> Job:
    """100 of 400 when this run began 40 s ago, and five more each four seconds since: 240 s for the rest."""
    job = Job(state=Job.State.RUNNING, done=150, total=450, label="Count up", **facts)
    job.run_at = timezone.now() - timedelta(seconds=40)
    job.marks = [(4.0 * n, 100 + 5 * n) for n in range(11)]
    return job


def test_the_time_left_follows_the_pace_of_this_run() -> None:
    left = time_left(watched())
    assert left is not None
    assert abs(left.total_seconds() - 240) < 1
    assert job_words.time_left(watched()) == "about 4 minutes left"
    assert time_left(Job(state=Job.State.STOPPED, done=150, total=450, marks=watched().marks)) is None


def test_where_steps_are_seconds_of_a_limit_it_may_end_earlier(monkeypatch: pytest.MonkeyPatch) -> None:
    kinds.register_kind("search", "Search", lambda _: {}, by_limit=True)
    assert job_words.time_left(watched(kind="search")) == "at most about 4 minutes left"


def test_a_run_notes_how_far_it_was(begin: Begin) -> None:
    """And a later run begins its notes anew."""
    seen: list[list[tuple[float, int]]] = []
    troubles[0] = lambda running: setattr(running.job, "marks", [(0.0, 0), (9.0, 3)])
    troubles[4] = lambda running: seen.append(running.job.marks)
    job = finish(begin())
    assert [done for _, done in seen[0]] == [0, 3]
    assert [done for _, done in Job.objects.get(pk=job.pk).marks] == [0, 3, 4]


def test_a_screen_reader_is_told_of_each_quarter_once(cast: Cast, begin: Begin, client: Client) -> None:
    job = begin()
    now = timezone.now()
    Job.objects.filter(pk=job.pk).update(
        state="running", run=job.pk, heartbeat_at=now, run_at=now, done=30, total=100
    )
    sign_in(client, cast.locksmith)

    def said(last: str) -> bool:
        answer = client.get(address(job), {"said": last}, headers={"HX-Request": "true"}).content.decode()
        assert 'said=running-25"' in answer
        return "Count up: 30 % done." in answer

    assert said("running-0")
    assert not said("running-25")
    # On the page itself nothing is said: its reader reads it anyway.
    page = client.get(address(job)).content.decode()
    assert '<p class="unseen" role="status" id="job-said"></p>' in page


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "less than a second"),
        (1, "1 second"),
        (59, "59 seconds"),
        (100, "2 min"),
        (3600, "1 hour"),
        (7195, "2 hours"),
        (9000, "2 h 30 min"),
    ],
)
def test_rough_times(seconds: int, words: str) -> None:
    assert rough_time(timedelta(seconds=seconds)) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "less than a minute"),
        (44, "less than a minute"),
        (46, "about 1 minute"),
        (200, "about 3 minutes"),
        (570, "about 10 minutes"),
        (1300, "about 20 minutes"),
        (3500, "about 60 minutes"),
        (9000, "about 2½ hours"),
        (14000, "about 4 hours"),
    ],
)
def test_an_estimate_is_told_no_more_exactly_than_it_is(seconds: int, words: str) -> None:
    assert about(timedelta(seconds=seconds)) == words


def test_facts_of_an_outcome_are_readable() -> None:
    assert [fact(value) for value in (16384, "J5VV", 0)] == ["16,384", "J5VV", "0"]
