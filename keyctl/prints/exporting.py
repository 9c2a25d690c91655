"""Taking a list of a whole system out of the house: asked for with a reason, numbered, registered, then made.

A bitting list opens the vault for every key, and takes two people: one asks, a security officer who is
another permits it, then the first has it made. History says so before the first key is unsealed, and each
download is written down again.
"""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.access import require_role
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.prints import lists, rows
from keyctl.prints.access import TAKERS, own_export
from keyctl.prints.models import Export
from keyctl.prints.pdf import Booklet, require_printer
from keyctl.prints.typesetting import Line
from keyctl.prints.workbook import write_workbook
from keyctl.reveals.people import people_at
from keyctl.reveals.services import ask_to_see, reveal_one
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySystem

# At the gate.
KIND = "export"
PAGES_AT_ONCE = 5
PDF = "application/pdf"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

JOB_KINDS = {kind: f"prints.{kind}" for kind in Export.Kind}


def register_kinds() -> None:
    for kind, name in JOB_KINDS.items():
        for_starter = kind == Export.Kind.BITTINGS
        label = f"Make a {kind.label.lower()}"
        register_kind(name, label, make_list, file_roles=TAKERS[kind], for_starter=for_starter)


@transaction.atomic
def ask_export(
    *, actor: User, system: KeySystem, site: Site, kind: Export.Kind, form: Export.Form, reason: str
) -> Export:
    """Register the export under its number. What holds no bitting is made at once; the rest waits for a
    second person."""
    kind = Export.Kind(kind)
    require_role(actor, site, *TAKERS[kind])
    if not system.sites.filter(pk=site.pk).exists():
        raise Refused(f"{system} is not used at {site}; choose a site of the system.")
    if not reason.strip():
        raise Refused("Say why you need it; the reason stands on the list and in the register.")
    if form == Export.Form.PDF:
        require_printer()
    export = Export.objects.create(
        kind=kind, form=form, system=system, site=site, actor=actor, reason=reason.strip()
    )
    _record(
        export, "asked", f"asked for the {kind.label.lower()} of {system.code}, export {export}: {reason}"
    )
    if kind == Export.Kind.BITTINGS:
        ask_to_see(actor=actor, secret=list_to_make(export), reason=reason)
    else:
        _start(export)
    return export


def make_export(*, actor: User, export: Export, sign_in: FreshSignIn) -> Job:
    """Have a permitted list made: once, by who asked for it."""
    return reveal_one(actor=actor, sign_in=sign_in, wanted=lambda: _to_make(actor, export))


def list_to_make(export: Export) -> Secret[Job]:
    return Secret(
        kind=KIND,
        thing=export,
        words=f"every bitting of {export.system.code}, as export {export}",
        sites=(export.site,),
        open=lambda: _start(export),
        verb="export.released",
        url=reverse("prints:system", args=[export.system_id]),
        roles=TAKERS[Export.Kind.BITTINGS],
        is_high=True,
        about=(export.system,),
    )


def find_export(actor: User, pk: UUID) -> Secret[Job]:
    return list_to_make(own_export(actor, pk))


def _to_make(actor: User, export: Export) -> Secret[Job]:
    Export.objects.select_for_update().get(pk=export.pk)
    export = Export.objects.select_related("system", "site", "actor").get(pk=export.pk)
    if export.actor != actor or export.kind != Export.Kind.BITTINGS:
        raise PermissionDenied
    if export.job_id or export.made_at:
        raise Conflict(f"Export {export} is being made already, or was. Ask for a new one.")
    return list_to_make(export)


@transaction.atomic
def _start(export: Export) -> Job:
    export.job = start_job(
        actor=export.actor,
        kind=JOB_KINDS[Export.Kind(export.kind)],
        site=export.site,
        parameters={"export": str(export.pk)},
        subjects=[export.system, export],
        back_url=reverse("prints:system", args=[export.system_id]),
        about=export.system.code,
    )
    export.save(update_fields=["job"])
    return export.job


def make_list(running: Running) -> dict[str, Any]:
    """The job: read the rows, set them, keep the sealed file. Short enough to begin anew after a stop."""
    export = Export.objects.select_related("system", "site", "actor").get(pk=running.parameters["export"])
    require_takers_role(running.actor, export)
    running.step(0, 1, "Reading the rows")
    found = _read(export)
    sheet = lists.sheet_of(export, len(found))
    is_paper = export.form == Export.Form.PDF
    content = _paper(running, export, sheet, found) if is_paper else _workbook(export, sheet, found)
    with transaction.atomic():
        export.rows, export.made_at = len(found), timezone.now()
        export.save(update_fields=["rows", "made_at"])
        running.attach(export.file_name, PDF if is_paper else XLSX, content, subjects=[export])
        if export.kind == Export.Kind.BITTINGS:
            _tell_overseers(export)
    noun = "keys" if export.kind == Export.Kind.BITTINGS else "cores"
    sentence = f"{export.get_kind_display()} of {export.system.code}: {len(found):,} {noun}, export {export}."
    return {"sentence": sentence, "facts": {"Export": str(export), noun.title(): len(found)}}


def require_takers_role(actor: User, export: Export) -> None:
    """Asked again when the vault is about to open: the job may have waited."""
    require_role(actor, export.site, *TAKERS[Export.Kind(export.kind)])


def _read(export: Export) -> Sequence[Any]:
    """History first, then the rows."""
    system, is_secret = export.system, export.kind == Export.Kind.BITTINGS
    if is_secret:
        count, what = system.symbols.count(), "the bittings of {} keys"
    else:
        count, what = rows.count_cores(system, export.site), "{} cores"
    _record(export, "opened", f"put {what.format(count)} of {system.code} into export {export}")
    return rows.key_rows(system) if is_secret else rows.core_rows(system, export.site)


def _paper(running: Running, export: Export, sheet: lists.ListSheet, found: Sequence[Any]) -> bytes:
    """Pages are numbered from 2: the first one says what this is."""
    set_pages = lists.bitting_pages if export.kind == Export.Kind.BITTINGS else lists.schedule_pages
    pages = list(enumerate(set_pages(found), 2))
    booklet, total = Booklet(), len(pages) + 1
    for start in range(0, max(1, len(pages)), PAGES_AT_ONCE):
        running.step(len(booklet.pages), total, f"Setting page {len(booklet.pages) + 1} of {total}")
        booklet.add(_html(sheet, pages[start : start + PAGES_AT_ONCE], total))
    running.step(total, total, "Writing the file")
    return booklet.write()


def _html(sheet: lists.ListSheet, pages: list[tuple[int, list[Line]]], total: int) -> str:
    is_first = not pages or pages[0][0] == 2
    context = {"sheet": sheet, "pages": pages, "total": total, "is_first": is_first}
    return render_to_string("prints/listing.html", context)


def _workbook(export: Export, sheet: lists.ListSheet, found: Sequence[Any]) -> bytes:
    content = lists.bitting_sheet if export.kind == Export.Kind.BITTINGS else lists.schedule_sheet
    facts = [*sheet.facts, *sheet.cautions]
    return write_workbook(facts, content(found), f"{sheet.title}: {sheet.mark}")


def _tell_overseers(export: Export) -> None:
    """Officers and auditors of the site hear that a list is made. The mail holds none of it."""
    for user in people_at(export.site, Role.OFFICER, Role.AUDITOR):
        send_notice(
            to=mail_of(user),
            name=user.display_name,
            kind="export",
            template="export_made",
            facts={
                "export": str(export),
                "site": str(export.site),
                "code": export.system.code,
                "actor": str(export.actor),
                "reason": export.reason,
                "rows": export.rows,
            },
            site=export.site,
            about=[export, export.system],
            once_key=f"export_made:{export.pk}:{user.pk}",
        )


@transaction.atomic
def _record(export: Export, verb: str, sentence: str) -> None:
    record(
        actor=export.actor,
        verb=f"export.{verb}",
        sentence=sentence,
        site_id=export.site_id,
        subjects=[export, export.system],
        detail={"export": export.number, "kind": export.kind, "form": export.form},
    )
