"""The files of a job: sealed, written down before they open, and not for everybody."""

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.test import Client
from django.urls import reverse

from keyctl.audit.models import Event
from keyctl.audit.selectors import history_of
from keyctl.jobs.models import Job, JobFile
from keyctl.jobs.services import open_file
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.vault.errors import Tampered
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.jobs.conftest import SECRET, Begin
from tests.signing import proven, sign_in


@pytest.fixture
def job(begin: Begin, cast: Cast) -> Job:
    return finish(begin(parameters={"file": SECRET}, subjects=[cast.north]))


@pytest.fixture
def file(job: Job) -> JobFile:
    return job.files.get()


def address(file: JobFile) -> str:
    return reverse("jobs:file", args=[file.pk])


def test_a_file_is_sealed_at_rest(file: JobFile) -> None:
    assert SECRET.encode() not in bytes(file.content)
    assert file.size == len(SECRET)


def test_who_started_it_gets_the_file_and_history_says_so(
    cast: Cast, file: JobFile, job: Job, client: Client
) -> None:
    sign_in(client, cast.locksmith)
    answer = client.post(address(file))
    assert answer.content == SECRET.encode()
    assert answer.headers["Content-Disposition"] == 'attachment; filename="list.txt"'
    assert answer.headers["Cache-Control"] == "no-store"
    event = Event.objects.get(verb="job.file_downloaded")
    assert event.sentence == "downloaded list.txt, made by “Count up”"
    for subject in (job, file, cast.north):
        assert event in history_of(subject)


def test_it_never_opens_by_its_address_alone(cast: Cast, file: JobFile, client: Client) -> None:
    sign_in(client, cast.locksmith)
    assert client.get(address(file)).status_code == 405


def test_history_keeps_the_opening_though_it_fails(cast: Cast, file: JobFile) -> None:
    JobFile.objects.filter(pk=file.pk).update(content=b"\x01" + bytes(60))
    file.refresh_from_db()
    with pytest.raises(Tampered):
        open_file(actor=cast.locksmith, sign_in=proven(cast.locksmith), file=file)
    assert Event.objects.filter(verb="job.file_downloaded").count() == 1


def test_who_may_open_it(cast: Cast, file: JobFile) -> None:
    """The starter and the site's officer; not the auditor, who reads everything but bittings."""
    for name, person in cast.everybody.items():
        if name in {"locksmith", "officer"}:
            assert open_file(actor=person, sign_in=proven(person), file=file) == SECRET.encode()
        else:
            with pytest.raises((PermissionDenied, Http404)):
                open_file(actor=person, sign_in=proven(person), file=file)


def test_a_starter_who_is_no_locksmith_any_more_does_not_open_it(cast: Cast, file: JobFile) -> None:
    Membership.objects.filter(user=cast.locksmith).update(role=Role.AUDITOR)
    with pytest.raises(PermissionDenied):
        open_file(actor=cast.locksmith, sign_in=proven(cast.locksmith), file=file)


def test_a_file_without_bittings_opens_for_any_role_that_made_it(cast: Cast, begin: Begin) -> None:
    job = finish(begin(kind="count-openly", actor=cast.auditor, parameters={"file": "words"}))
    file = job.files.get()
    assert open_file(actor=cast.auditor, sign_in=proven(cast.auditor), file=file) == b"words"
    with pytest.raises(PermissionDenied):
        open_file(actor=cast.desk, sign_in=proven(cast.desk), file=file)


def test_a_second_run_replaces_its_file(begin: Begin, file: JobFile, job: Job) -> None:
    Job.objects.filter(pk=job.pk).update(state=Job.State.WAITING, ended_at=None)
    finish(job)
    assert job.files.get().pk != file.pk


def test_no_event_and_no_row_but_the_sealed_ones_holds_what_is_secret(file: JobFile, job: Job) -> None:
    rows = [*Event.objects.values(), *Job.objects.values(), *JobFile.objects.values()]
    assert SECRET not in repr(rows)
