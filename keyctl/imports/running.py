"""An import from beginning to end where one stands: for the command, without a worker."""

from collections.abc import Mapping
from time import sleep
from typing import Any

from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.imports import services
from keyctl.imports.kinds import Kind
from keyctl.imports.models import Change, Import
from keyctl.imports.selectors import told_to_programs
from keyctl.jobs.models import Job
from keyctl.jobs.services import run_job
from keyctl.lib.errors import Refused
from keyctl.places.models import Site
from keyctl.vault import services as vault

SECONDS_BETWEEN_LOOKS = 0.2


def run_import(
    *,
    actor: User,
    site: Site,
    kind: Kind,
    name: str,
    content: bytes,
    named: Mapping[str, str],
    is_dry: bool,
) -> dict[str, Any]:
    """Try a file, and take what is sound in it unless only the dry run is asked for; returns the figures."""
    imported = services.bring_file(actor=actor, site=site, kind=kind, name=name, content=content, named=named)
    try:
        done_here(services.start_trying(actor=actor, imported=imported, version=imported.version))
    except Refused:
        services.give_up(actor=actor, imported=imported, version=imported.version)
        raise
    imported = _again(imported)
    if is_dry or not Change.objects.filter(imported=imported).exists():
        told = told_to_programs(imported, kind)
        services.give_up(actor=actor, imported=imported, version=imported.version)
        return told
    done_here(
        services.start_taking(
            actor=actor,
            imported=imported,
            version=imported.version,
            digest=imported.digest,
            without_errors=True,
        )
    )
    return told_to_programs(_again(imported), kind)


def undo_here(*, actor: User, imported: Import) -> Import:
    done_here(services.start_undoing(actor=actor, imported=imported, version=imported.version))
    return _again(imported)


def _again(imported: Import) -> Import:
    return Import.objects.defer("content").select_related("site").get(pk=imported.pk)


def done_here(job: Job) -> None:
    """Do the job here, or wait for the worker that was quicker to take it."""
    run_job(job.pk)
    job.refresh_from_db()
    while job.is_unfinished:
        sleep(SECONDS_BETWEEN_LOOKS)
        job.refresh_from_db()
    if job.state != Job.State.DONE:
        raise Refused(
            vault.unseal(job, "failure") if job.failure else _("The job was {state}.").format(state=job.state)
        )
