"""Who may look at a job, stop it, and open its files."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404

from keyctl.accounts.models import User
from keyctl.jobs.models import Job, JobFile, JobQuerySet
from keyctl.places.access import has_role, require_role, visible_sites
from keyctl.places.roles import STAFF, Role

# Beside who started it.
MAY_STOP = (Role.OFFICER, Role.ADMINISTRATOR)


def visible_jobs(actor: User) -> JobQuerySet:
    jobs = Job.objects.at_sites(visible_sites(actor)).select_related("site", "actor")
    return jobs.defer("parameters", "checkpoint", "failure")


def readable_job(actor: User, pk: UUID) -> Job:
    job = get_object_or_404(Job.objects.select_related("site", "actor"), pk=pk)
    require_role(actor, job.site, *STAFF)
    return job


def readable_file(actor: User, pk: UUID) -> JobFile:
    """A file that the actor may open; its content is not read before history knows."""
    file = get_object_or_404(
        JobFile.objects.select_related("job__site", "job__actor").defer("content"), pk=pk
    )
    require_file_role(actor, file.job)
    return file


def may_stop(actor: User, job: Job) -> bool:
    return has_role(actor, job.site, *(STAFF if job.actor == actor else MAY_STOP))


def may_open_files(actor: User, job: Job) -> bool:
    """Who started it, while they hold the role; and the site's officers, who answer for what goes out, unless
    two people agreed that one of them gets it."""
    mine = job.actor == actor
    if job.files_are_for_starter and not mine:
        return False
    return has_role(actor, job.site, *(role for role in job.file_roles if mine or role == Role.OFFICER))


def require_file_role(actor: User, job: Job) -> None:
    require_role(actor, job.site, *job.file_roles)
    if not may_open_files(actor, job):
        raise PermissionDenied


def require_to_stop(actor: User, job: Job) -> None:
    require_role(actor, job.site, *STAFF)
    if not may_stop(actor, job):
        raise PermissionDenied
