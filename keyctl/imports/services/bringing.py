"""A file on its way in: brought, its columns chosen, tried, taken or given up; and undone."""

import hashlib
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.imports.access import require_taker
from keyctl.imports.columns import guess_columns
from keyctl.imports.kinds import Kind, kind_of, table_of
from keyctl.imports.models import Change, Import, ImportHabit
from keyctl.jobs.models import Job
from keyctl.jobs.services import start_job
from keyctl.lib.columns import headings_to_keep, named_columns, refuse_columns
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_english, in_sentence
from keyctl.lib.retold import kept_text
from keyctl.lib.sheets import Sheet
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.vault import services as vault

TRY, TAKE, UNDO = "imports.try", "imports.take", "imports.undo"
# What people forgot is not kept; what was taken can be undone as long as its rows are kept.
LEFT_AFTER = timedelta(days=14)
KEPT_FOR = timedelta(days=90)
State = Import.State
CLEARED = kept_text(gettext_noop("Files given up: {left}. Imports that can no longer be undone: {cleared}."))


def bring_file(
    *,
    actor: User,
    site: Site,
    kind: Kind,
    name: str,
    content: bytes,
    named: Mapping[str, str] | None = None,
) -> Import:
    """Keep a file, sealed, with its columns guessed; ``named`` says by headings what some of them are."""
    require_role(actor, site, *kind.takers)
    if len(content) > kind.largest:
        raise Refused(
            _("The file is larger than {size} MB. Send it in parts.").format(size=kind.largest // 1_000_000)
        )
    kind.suits(content)
    columns = _columns_of(site, kind, content, named or {}) if kind.fields else {}
    imported = Import(
        site=site,
        kind=kind.name,
        name=name[-120:],
        # Keyed: whoever guesses a short list must not be able to tell by it that they guessed right.
        digest=vault.fingerprint("import", hashlib.sha256(content).hexdigest()),
        columns=columns,
        uploaded_by=actor,
    )
    imported.content = vault.seal_bytes(imported, "content", content)
    # Not sooner: a large file takes seconds to read, in which nobody else shall wait to write.
    with transaction.atomic():
        imported.save(force_insert=True)
        tell(
            actor,
            imported,
            "brought",
            f"brought in a file of {in_english(kind.label).lower()}: {imported.name}",
        )
    return imported


def _columns_of(site: Site, kind: Kind, content: bytes, named: Mapping[str, str]) -> dict[str, int]:
    sheet = table_of(content)
    habit = ImportHabit.objects.filter(site=site, kind=kind.name).first()
    told = named_columns(sheet, [field.name for field in kind.fields], named)
    guessed = guess_columns(sheet, kind, habit.headings if habit else {})
    return {name: place for name, place in guessed.items() if place not in told.values()} | told


def choose_columns(*, actor: User, imported: Import, version: int, columns: Mapping[str, int]) -> Import:
    """Which column says what. The headings are remembered for the site's next file of the kind."""
    _refuse_columns(imported, columns)
    sheet = sheet_of(imported)
    with transaction.atomic():
        imported = locked_import(actor, imported.pk, version, State.UPLOADED, State.CHECKED)
        imported.columns, imported.state, imported.counts = dict(columns), State.UPLOADED, {}
        save(imported, "columns", "counts")
        ImportHabit.objects.update_or_create(
            site=imported.site,
            kind=imported.kind,
            defaults={"headings": headings_to_keep(sheet, imported.columns)},
        )
        tell(actor, imported, "columns_chosen", f"chose the columns of the file {imported}")
    return imported


def _refuse_columns(imported: Import, columns: Mapping[str, int]) -> None:
    refuse_columns(columns, {field.name: field.label for field in kind_of(imported).needed})


@transaction.atomic
def start_trying(*, actor: User, imported: Import, version: int) -> Job:
    """The dry run: what is wrong with every row, what would change, and nothing written."""
    imported = locked_import(actor, imported.pk, version, State.UPLOADED, State.CHECKED)
    _refuse_columns(imported, imported.columns)
    _refuse_at_work(imported)
    return _start(actor, TRY, imported)


@transaction.atomic
def start_taking(
    *, actor: User, imported: Import, version: int, digest: str, without_errors: bool = False
) -> Job:
    """Write what the dry run showed of the very file that was tried; rows with errors are left out."""
    imported = locked_import(actor, imported.pk, version, State.CHECKED, State.TAKING)
    _refuse_at_work(imported)
    if digest != imported.digest:
        raise Conflict(_("This is not the file that was tried. Look at what it would change again."))
    if imported.errors and not without_errors:
        raise Refused(_("Some rows have errors. Correct the file, or say that these rows are left out."))
    if not Change.objects.filter(imported=imported).exists():
        raise Refused(_("There is nothing to take: everything is on record as the file says it."))
    imported.state = State.TAKING
    save(imported)
    return _start(actor, TAKE, imported)


@transaction.atomic
def start_undoing(*, actor: User, imported: Import, version: int) -> Job:
    """Take back as one act what was taken: also of an import that was stopped halfway."""
    imported = locked_import(actor, imported.pk, version, State.TAKEN, State.TAKING, State.UNDOING)
    _refuse_at_work(imported)
    kind_of(imported).refuse_undo(imported)
    if imported.cleared_at:
        raise Refused(_("After {days} days an import can no longer be undone.").format(days=KEPT_FOR.days))
    if not Change.objects.filter(imported=imported, state=Change.State.TAKEN).exists():
        raise Refused(_("Nothing of this import stands any more. There is nothing to undo."))
    imported.state, imported.content = State.UNDOING, None
    save(imported, "content")
    return _start(actor, UNDO, imported)


@transaction.atomic
def give_up(*, actor: User, imported: Import, version: int) -> Import:
    """The file is deleted, and what the dry run found in it."""
    imported = locked_import(actor, imported.pk, version, *Import.OPEN)
    _refuse_at_work(imported)
    if Change.objects.filter(imported=imported, state=Change.State.TAKEN).exists():
        raise Refused(_("Some of its rows are written already. Undo them, or go on."))
    _leave(imported)
    tell(actor, imported, "given_up", f"gave up the file {imported}; it is deleted")
    return imported


def clear_imports(now: datetime) -> str:
    """The routine: files that nobody went on with go, and what long ago was taken can no longer be undone."""
    forgotten = Import.objects.filter(
        state__in=[State.UPLOADED, State.CHECKED], uploaded_at__lt=now - LEFT_AFTER
    )
    left = sum(_clear(pk) for pk in list(forgotten.values_list("pk", flat=True)))
    old = Import.objects.filter(
        state__in=[State.TAKEN, State.UNDONE], cleared_at=None, taken_at__lt=now - KEPT_FOR
    )
    cleared = sum(_clear_rows(pk, now) for pk in list(old.values_list("pk", flat=True)))
    return CLEARED.format(left=left, cleared=cleared)


@transaction.atomic
def _clear(pk: UUID) -> bool:
    imported = Import.objects.select_for_update().get(pk=pk)
    if imported.state not in {State.UPLOADED, State.CHECKED} or _is_at_work(imported):
        return False
    _leave(imported)
    tell(None, imported, "given_up", f"gave up a file that lay for {LEFT_AFTER.days} days; it is deleted")
    return True


@transaction.atomic
def _clear_rows(pk: UUID, now: datetime) -> bool:
    imported = Import.objects.select_for_update().get(pk=pk)
    if _is_at_work(imported):
        return False
    Change.objects.filter(imported=imported).delete()
    imported.faults.all().delete()
    Import.objects.filter(pk=pk).update(cleared_at=now)
    return True


def sheet_of(imported: Import) -> Sheet:
    if imported.content is None:
        raise Refused(_("The file of this import is deleted already. Bring it in again."))
    return table_of(vault.unseal_bytes(imported, "content"))


def locked_import(actor: User, pk: UUID, version: int, *states: State) -> Import:
    rows = Import.objects.select_for_update(of=("self",)).defer("content").select_related("site")
    imported = rows.get(pk=pk)
    require_taker(actor, imported)
    if imported.version != version:
        raise Conflict(_("Somebody else worked on this import first. Look at it as it is now."))
    if imported.state not in states:
        raise Conflict(
            _("This import is {value}. Look at it as it is now.").format(
                value=in_sentence(imported.get_state_display())
            )
        )
    return imported


def save(imported: Import, *fields: str) -> None:
    save_next(imported, "state", *fields)


def tell(
    actor: User | None, imported: Import, verb: str, sentence: str, detail: dict[str, Any] | None = None
) -> None:
    record(
        actor=actor,
        verb=f"import.{verb}",
        sentence=sentence,
        site_id=imported.site_id,
        subjects=[imported],
        detail={"kind": imported.kind, "digest": imported.digest, **(detail or {})},
    )


def _leave(imported: Import) -> None:
    imported.state, imported.content = State.LEFT, None
    Change.objects.filter(imported=imported).delete()
    imported.faults.all().delete()
    save(imported, "content")


def _refuse_at_work(imported: Import) -> None:
    if _is_at_work(imported):
        raise Conflict(_("A job works on this import. Wait for its end, or stop it first."))


def _is_at_work(imported: Import) -> bool:
    return Job.objects.about(imported).unfinished().exists()


def _start(actor: User, kind: str, imported: Import) -> Job:
    return start_job(
        actor=actor,
        kind=kind,
        site=imported.site,
        parameters={"import": str(imported.pk), "version": imported.version},
        subjects=[imported],
        back_url=reverse("imports:detail", args=[imported.pk]),
        about=imported.name,
    )
