"""Starting, stopping and going on with long work; opening its files."""

import json
from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.core.serializers.json import DjangoJSONEncoder
from django.db import transaction
from django.db.models import Model
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.fresh import FreshSignIn, SignInAgain
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.jobs.access import require_file_role, require_to_stop
from keyctl.jobs.execution import run_job
from keyctl.jobs.kinds import kind_of
from keyctl.jobs.models import Job, JobFile, JobSubject
from keyctl.jobs.queue import enqueue, leave
from keyctl.lib.errors import Conflict
from keyctl.lib.language import in_sentence
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import STAFF
from keyctl.vault import services as vault

__all__ = ["cancel_job", "open_file", "resume_job", "run_job", "start_job"]


@transaction.atomic
def start_job(
    *,
    actor: User,
    kind: str,
    site: Site,
    parameters: dict[str, Any],
    subjects: Sequence[Model] = (),
    back_url: str = "",
    about: str = "",
) -> Job:
    """Put work in the queue. The caller's service has asked for the role that the work needs.

    ``about`` tells jobs of one kind apart in a list: the code of a system, never a bitting.
    """
    require_role(actor, site, *STAFF)
    known = kind_of(kind).english
    label = f"{known}: {about}" if about else known
    job = Job(kind=kind, label=label[: Job.LONGEST_LABEL], site=site, actor=actor, back_url=back_url)
    job.parameters = vault.seal(job, "parameters", json.dumps(parameters, cls=DjangoJSONEncoder))
    job.task = enqueue(job.pk)
    job.save(force_insert=True)
    unique = {(thing._meta.label_lower, thing.pk) for thing in subjects}
    JobSubject.objects.bulk_create([JobSubject(job=job, kind=name, subject_id=pk) for name, pk in unique])
    _record(actor, job, "started", "started")
    return job


@transaction.atomic
def cancel_job(*, actor: User, job: Job) -> Job:
    """Ask a job to stop: at once where it waits, else at its next step. What it did is kept."""
    require_to_stop(actor, job)
    job = _lock(job)
    if job.state not in {Job.State.WAITING, Job.State.RUNNING}:
        raise Conflict(
            _("“{job}” is {value} already; there is nothing to stop.").format(
                job=job, value=in_sentence(job.get_state_display())
            )
        )
    if job.state == Job.State.WAITING:
        leave(job.task)
        job.state, job.ended_at, job.task = Job.State.STOPPED, timezone.now(), None
    else:
        job.state = Job.State.STOPPING
    job.save(update_fields=["state", "ended_at", "task"])
    _record(actor, job, "stopped", "asked to stop")
    return job


@transaction.atomic
def resume_job(*, actor: User, job: Job) -> Job:
    """Go on where it stopped. Only who started it: what it does stands under their name."""
    require_to_stop(actor, job)
    if job.actor != actor:
        raise PermissionDenied
    job = _lock(job)
    if job.state not in {Job.State.STOPPED, Job.State.FAILED}:
        raise Conflict(
            _("“{job}” is {value}; only what stopped can go on.").format(
                job=job, value=in_sentence(job.get_state_display())
            )
        )
    job.state, job.ended_at, job.failure, job.attempts = Job.State.WAITING, None, None, 0
    job.task = enqueue(job.pk)
    job.save(update_fields=["state", "ended_at", "failure", "attempts", "task"])
    _record(actor, job, "resumed", "went on with")
    return job


def open_file(*, actor: User, file: JobFile, sign_in: FreshSignIn | None = None) -> bytes:
    """The content of a job's file. History knows of it before it is opened, and keeps it if that fails."""
    job = file.job
    require_file_role(actor, job)
    if job.files_hold_secrets:
        if sign_in is None:
            raise SignInAgain
        sign_in.require(actor)
    with transaction.atomic(durable=True):
        record(
            actor=actor,
            verb="job.file_downloaded",
            sentence=f"downloaded {file.name}, made by “{job.label}”",
            site_id=job.site_id,
            subjects=[job, file, *_subjects_of(job, file)],
            detail={"size": file.size},
        )
    return vault.unseal_bytes(file, "content")


def _subjects_of(job: Job, file: JobFile) -> list[Model]:
    """What the opening is written down for: the job's own subjects and the file's."""
    pairs = {*job.subjects.values_list("kind", "subject_id")}
    pairs |= {(kind, UUID(pk)) for kind, pk in file.subjects}
    return [apps.get_model(kind)(pk=pk) for kind, pk in pairs]


def _lock(job: Job) -> Job:
    return Job.objects.select_for_update(of=("self",)).select_related("actor", "site").get(pk=job.pk)


def _record(actor: User, job: Job, verb: str, words: str) -> None:
    record(
        actor=actor,
        verb=f"job.{verb}",
        sentence=f"{words} the job “{job.label}”",
        site_id=job.site_id,
        subjects=[job],
        detail={"kind": job.kind},
    )
