"""A list on its way in: uploaded, its columns chosen, checked, written or given up."""

import hashlib
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.inherited.access import BRINGERS
from keyctl.inherited.columns import FIELDS, NEEDED, guess_columns
from keyctl.inherited.models import BittingList, ListHabit
from keyctl.jobs.models import Job
from keyctl.jobs.services import start_job
from keyctl.lib.columns import headings_to_keep, refuse_columns
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import save_next
from keyctl.lib.language import in_sentence
from keyctl.lib.sheets import Sheet, read_sheet
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem
from keyctl.vault import services as vault

CHECK = "inherited.check-list"
WRITE = "inherited.write-list"
State = BittingList.State


def bring_list(
    *,
    actor: User,
    site: Site,
    name: str,
    content: bytes,
    system: KeySystem | None = None,
    code: str = "",
    system_name: str = "",
    format_id: str = "",
    keyway: str = "",
) -> BittingList:
    """Keep an uploaded list, sealed, with its columns guessed. Nothing of it is written yet."""
    require_role(actor, site, *BRINGERS)
    if system is not None:
        _refuse_foreign(site, system)
        code, system_name, format_id, keyway = "", "", system.format_id, system.keyway
    else:
        _refuse_new(code, system_name, keyway)
    format = engine.load_format(format_id)
    sheet = read_sheet(content)
    habit = ListHabit.objects.filter(site=site).first()
    guess = guess_columns(sheet, format.positions, habit.headings if habit else {})
    listed = BittingList(
        site=site,
        name=name[-120:],
        # Keyed: whoever guesses a short list must not be able to tell by it that they guessed right.
        digest=vault.fingerprint("bitting list", hashlib.sha256(content).hexdigest()),
        system=system,
        code=code,
        system_name=system_name,
        format_id=format_id,
        keyway=keyway,
        columns=guess.columns,
        has_header=guess.has_header,
        uploaded_by=actor,
    )
    listed.content = vault.seal_bytes(listed, "content", content)
    sentence = f"brought in a bitting list of {len(sheet.rows)} rows for {listed.target}"
    # Not sooner: a large file takes seconds to read, in which nobody else shall wait to write.
    with transaction.atomic():
        listed.save(force_insert=True)
        _record(actor, listed, "brought", sentence, digest=listed.digest)
    return listed


def _refuse_foreign(site: Site, system: KeySystem) -> None:
    if not system.sites.filter(pk=site.pk).exists():
        raise Refused(
            _("{system} is not used at {site}; choose a system of that site.").format(
                system=system, site=site
            )
        )


def _refuse_new(code: str, system_name: str, keyway: str) -> None:
    if not (code and system_name and keyway):
        raise Refused(_("Choose the key system, or give the code, name and keyway of a new one."))
    if KeySystem.objects.filter(code=code).exists():
        raise Refused(
            _("There is a key system {code} already; choose it, or another code.").format(code=code)
        )


@transaction.atomic
def choose_columns(
    *, actor: User, listed: BittingList, version: int, columns: Mapping[str, int], has_header: bool
) -> BittingList:
    """Which column says what. The headings are remembered for the site's next list."""
    listed = _locked(actor, listed.pk, version, State.UPLOADED, State.CHECKED)
    refuse_columns(columns, {field: FIELDS[field] for field in NEEDED})
    listed.columns, listed.has_header = dict(columns), has_header
    listed.state, listed.findings, listed.counts = State.UPLOADED, None, {}
    _save(listed, "columns", "has_header", "findings", "counts")
    if has_header:
        _remember(listed, sheet_of(listed))
    _record(actor, listed, "columns_chosen", f"chose the columns of the bitting list for {listed.target}")
    return listed


def _remember(listed: BittingList, sheet: Sheet) -> None:
    headings = headings_to_keep(sheet, listed.columns)
    ListHabit.objects.update_or_create(site=listed.site, defaults={"headings": headings})


@transaction.atomic
def start_check(*, actor: User, listed: BittingList, version: int) -> Job:
    """The dry run: every conflict of every row, and nothing written."""
    listed = _locked(actor, listed.pk, version, *BittingList.OPEN)
    if listed.state == State.WRITING:
        _refuse_written(listed)
        listed.state = State.CHECKED
        _save(listed)
    return _start(actor, CHECK, listed)


@transaction.atomic
def start_writing(
    *, actor: User, listed: BittingList, version: int, digest: str, despite_warnings: bool
) -> Job:
    """Write the keys and cores of the very file that was checked."""
    listed = _locked(actor, listed.pk, version, State.CHECKED)
    if digest != listed.digest:
        raise Conflict(_("This is not the file that was checked. Look at its findings again."))
    if listed.errors:
        raise Refused(_("The list has errors. Correct it, and bring it in again."))
    if listed.warnings and not despite_warnings:
        raise Refused(_("Read the warnings, and tick that you have."))
    listed.state = State.WRITING
    _save(listed)
    return _start(actor, WRITE, listed)


@transaction.atomic
def leave_list(*, actor: User, listed: BittingList, version: int) -> BittingList:
    """Give a list up; its content is deleted."""
    listed = _locked(actor, listed.pk, version, *BittingList.OPEN)
    _refuse_written(listed)
    end(listed, State.LEFT)
    sentence = f"gave up the bitting list for {listed.target}; the file is deleted"
    _record(actor, listed, "left", sentence, digest=listed.digest)
    return listed


def _refuse_written(listed: BittingList) -> None:
    """Whoever stopped or failed to write a list may turn back as long as none of it is there."""
    if listed.state == State.WRITING and Job.objects.about(listed).unfinished().exists():
        raise Conflict(_("The list is being written. Stop the job first."))
    if "written" in listed.counts:
        raise Refused(_("Its keys are written already, only cores are missing. Go on with its job."))


def end(listed: BittingList, state: State) -> None:
    listed.state, listed.content, listed.findings = state, None, None
    listed.ended_at = timezone.now()
    _save(listed, "content", "findings", "ended_at")


def sheet_of(listed: BittingList) -> Sheet:
    """The file, opened to be read by the program; nothing of it is shown."""
    if listed.content is None:
        raise Refused(_("The file of this list is deleted already."))
    return read_sheet(vault.unseal_bytes(listed, "content"))


def _start(actor: User, kind: str, listed: BittingList) -> Job:
    subjects = [listed, listed.system] if listed.system else [listed]
    facts: dict[str, Any] = {"list": str(listed.pk), "version": listed.version}
    address = reverse("inherited:detail", args=[listed.pk])
    return start_job(
        actor=actor,
        kind=kind,
        site=listed.site,
        parameters=facts,
        subjects=subjects,
        back_url=address,
        about=listed.target,
    )


def _locked(actor: User, pk: UUID, version: int, *states: State) -> BittingList:
    rows = BittingList.objects.select_for_update(of=("self",)).select_related("site", "system")
    listed = rows.get(pk=pk)
    require_role(actor, listed.site, *BRINGERS)
    if listed.version != version:
        raise Conflict(_("Somebody else worked on this list first. Look at it as it is now."))
    if listed.state not in states:
        raise Conflict(
            _("The list is {value}. Look at it as it is now.").format(
                value=in_sentence(listed.get_state_display())
            )
        )
    return listed


def _save(listed: BittingList, *fields: str) -> None:
    save_next(listed, "state", *fields)


def _record(actor: User, listed: BittingList, verb: str, sentence: str, **detail: Any) -> None:
    record(
        actor=actor,
        verb=f"inherited.list_{verb}",
        sentence=sentence,
        site_id=listed.site_id,
        subjects=[listed, listed.system] if listed.system else [listed],
        detail=detail,
    )
