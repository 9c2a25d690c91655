"""Taking the whole estate out of the house: asked for with a reason, permitted by a second person, made by a
job, fetched with a fresh sign-in.

The passphrase is stretched when it is typed and kept nowhere; the job gets the head of the file and the key
that it wraps, sealed by the vault.
"""

import base64
from pathlib import Path
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.jobs.kinds import register_kind as register_job
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.numbers import as_number
from keyctl.operations.archive.access import own_archive, require_keeper
from keyctl.operations.archive.container import Lock, new_lock
from keyctl.operations.archive.contents import carried_tables
from keyctl.operations.archive.keeping import drop, place_of
from keyctl.operations.archive.making import make_archive
from keyctl.operations.archive.telling import FETCHED
from keyctl.operations.models import EstateArchive, EstateArchiveFile
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.reveals.services import ask_to_see, reveal_one
from keyctl.reveals.things import Secret, register_kind

# At the gate, and among the jobs.
KIND = "archive"
JOB = "operations.archive"


def register_archives() -> None:
    register_kind(KIND, find_archive)
    register_job(
        JOB, gettext_lazy("Make an archive of the estate"), run_archive, file_roles=(), for_starter=True
    )


@transaction.atomic
def ask_archive(*, actor: User, reason: str) -> EstateArchive:
    require_keeper(actor)
    if not reason.strip():
        raise Refused(_("Say why you need it; the reason stands in the register."))
    archive = EstateArchive.objects.create(actor=actor, reason=reason.strip())
    _record(actor, archive, "archive.asked", f"asked for an archive of the whole estate, {archive}: {reason}")
    ask_to_see(actor=actor, secret=archive_to_make(archive), reason=reason)
    return archive


def start_archive(
    *, actor: User, archive: EstateArchive, sign_in: FreshSignIn, passphrase: str, again: str
) -> Job:
    """Once, by who asked for it, when a second person permitted it."""
    if passphrase != again:
        raise Refused(_("The two passphrases differ. Type the same one twice: nothing else opens the file."))
    sign_in.require(actor)
    lock = new_lock(passphrase)
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: _to_make(actor, archive, lock))


def fetch_archive(*, actor: User, archive: EstateArchive, sign_in: FreshSignIn) -> Path:
    """Where the file lies; history knows of it before it leaves."""
    require_keeper(actor)
    sign_in.require(actor)
    file = _lying(actor, archive)
    with transaction.atomic(durable=True):
        _record(actor, archive, FETCHED, f"fetched the archive of the whole estate {archive}")
    return place_of(file.archive)


@transaction.atomic
def delete_archive(*, actor: User, archive: EstateArchive) -> None:
    file = _lying(actor, archive)
    drop(file)
    _record(actor, archive, "archive.deleted", f"deleted the file of the archive {archive}")


def archive_to_make(archive: EstateArchive, lock: Lock | None = None) -> "Secret[Job]":
    return Secret(
        kind=KIND,
        thing=archive,
        words=f"everything, with every bitting, as archive {archive}",
        sites=tuple(Site.objects.order_by("code")),
        open=lambda: _start(archive, lock),
        verb="archive.released",
        url=reverse("operations:archive"),
        roles=(Role.ADMINISTRATOR,),
        is_high=True,
    )


def find_archive(actor: User, pk: UUID) -> "Secret[Job]":
    return archive_to_make(own_archive(actor, pk))


def run_archive(running: Running) -> dict[str, Any]:
    """The job. After a stop it begins anew, with the same key."""
    require_keeper(running.actor)
    file = EstateArchiveFile.objects.select_related("archive").get(archive=running.parameters["archive"])
    total = sum(carried.table.model._base_manager.count() for carried in carried_tables())
    running.step(0, total, _("Reading the first table"))
    lock = Lock(base64.b64decode(running.parameters["head"]), base64.b64decode(running.parameters["key"]))
    place = place_of(file.archive)
    # What a run that died had finished: it was not written down, so nobody can have fetched it.
    place.unlink(missing_ok=True)
    made = make_archive(
        place,
        lock,
        actor=running.actor,
        step=lambda done, table: running.step(
            min(done, total), total, _("Reading {table}").format(table=table)
        ),
    )
    EstateArchiveFile.objects.filter(pk=file.pk).update(
        made_at=made.at, bytes=made.bytes, rows=made.rows, digest=made.digest
    )
    sentence = _(
        "Archive {archive}: {rows} rows. Fetch it on the page of archives within seven days."
    ).format(archive=file.archive, rows=as_number(made.rows))
    return {"sentence": sentence, "facts": {_("Archive"): str(file.archive), _("Rows"): made.rows}}


def _to_make(actor: User, archive: EstateArchive, lock: Lock) -> "Secret[Job]":
    require_keeper(actor)
    found = EstateArchive.objects.select_for_update().get(pk=archive.pk)
    if found.actor_id != actor.pk:
        raise PermissionDenied
    if EstateArchiveFile.objects.filter(archive=found).exists():
        raise Conflict(
            _("Archive {found} is being made already, or was. Ask for a new one.").format(found=found)
        )
    return archive_to_make(found, lock)


@transaction.atomic
def _start(archive: EstateArchive, lock: Lock | None) -> Job:
    if lock is None:
        raise Refused(_("Type a passphrase on the page of archives."))
    job = start_job(
        actor=archive.actor,
        kind=JOB,
        site=Site.objects.order_by("code")[0],
        parameters={
            "archive": str(archive.pk),
            "head": base64.b64encode(lock.text).decode(),
            "key": base64.b64encode(lock.key).decode(),
        },
        subjects=[archive],
        back_url=reverse("operations:archive"),
        about=str(archive),
    )
    EstateArchiveFile.objects.create(archive=archive, job=job)
    return job


def _lying(actor: User, archive: EstateArchive) -> EstateArchiveFile:
    if archive.actor_id != actor.pk:
        raise PermissionDenied
    file = EstateArchiveFile.objects.select_related("archive").filter(archive=archive).first()
    if file is None or file.made_at is None or file.gone_at or not place_of(archive).exists():
        raise Refused(
            _("There is no file of archive {archive} here any more. Ask for a new one.").format(
                archive=archive
            )
        )
    return file


def _record(actor: User, archive: EstateArchive, verb: str, sentence: str) -> None:
    record(
        actor=actor,
        verb=verb,
        sentence=sentence[:400],
        subjects=[archive],
        detail={"archive": archive.number},
    )
