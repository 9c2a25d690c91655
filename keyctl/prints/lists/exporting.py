"""Taking a list of a key system, a building or a site out of the house: asked for with a reason, numbered,
registered, then made.

What holds bittings opens the vault for every key, and takes two people: one asks, a security officer who is
another permits it, then the first has it made. History says so before the first key is unsealed, and each
download is written down again.
"""

from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.fresh import FreshSignIn
from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.jobs.kinds import register_kind
from keyctl.jobs.models import Job
from keyctl.jobs.running import Running
from keyctl.jobs.services import start_job
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.lib.language import in_english, in_sentence
from keyctl.lib.numbers import as_number
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.access import require_role
from keyctl.places.models import Building, Site
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at
from keyctl.prints.access import BITTING_TAKERS, TAKERS, own_export, takers_of
from keyctl.prints.lists import listing
from keyctl.prints.lists.contents import CONTENTS, pages_of
from keyctl.prints.models import Export
from keyctl.prints.pdf import require_printer
from keyctl.prints.workbook import write_workbook
from keyctl.reveals.services import ask_to_see, reveal_one
from keyctl.reveals.things import Secret
from keyctl.systems.models import KeySystem

# At the gate.
KIND = "export"
NAMES = ("system", "building__site", "site", "actor")
PDF = "application/pdf"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

# A binder with bittings is a job of its own kind: its file is for fewer people.
JOB_KINDS = {kind: f"prints.{kind}" for kind in Export.Kind}
WITH_BITTINGS = "prints.binder-with-bittings"


def register_kinds() -> None:
    labels = {
        Export.Kind.BITTINGS: gettext_lazy("Make a bitting list"),
        Export.Kind.SCHEDULE: gettext_lazy("Make a keying schedule"),
        Export.Kind.DOORS: gettext_lazy("Make a door schedule"),
        Export.Kind.CHART: gettext_lazy("Make a lock chart"),
        Export.Kind.BINDER: gettext_lazy("Make a hand-over binder"),
    }
    for kind, name in JOB_KINDS.items():
        for_starter = kind in {Export.Kind.BITTINGS, Export.Kind.BINDER}
        register_kind(name, labels[kind], make_list, file_roles=TAKERS[kind], for_starter=for_starter)
    label = gettext_lazy("Make a hand-over binder with bittings")
    register_kind(WITH_BITTINGS, label, make_list, file_roles=BITTING_TAKERS, for_starter=True)


@transaction.atomic
def ask_export(
    *, actor: User, system: KeySystem, site: Site, kind: Export.Kind, form: Export.Form, reason: str
) -> Export:
    """Register a list of a key system under its number. What holds no bitting is made at once; the rest
    waits for a second person."""
    kind = Export.Kind(kind)
    require_role(actor, site, *TAKERS[kind])
    if not system.sites.filter(pk=site.pk).exists():
        raise Refused(
            _("{system} is not used at {site}; choose a site of the system.").format(system=system, site=site)
        )
    holds_bittings = kind == Export.Kind.BITTINGS
    export = Export(
        system=system, site=site, actor=actor, kind=kind, form=form, holds_bittings=holds_bittings
    )
    return _register(export, reason)


@transaction.atomic
def ask_place_export(
    *,
    actor: User,
    site: Site,
    kind: Export.Kind,
    form: Export.Form,
    reason: str,
    building: Building | None = None,
    with_bittings: bool = False,
) -> Export:
    """The same for a list of a site or one of its buildings."""
    kind = Export.Kind(kind)
    require_role(actor, site, *takers_of(kind, holds_bittings=with_bittings))
    if building and building.site_id != site.pk:
        raise Refused(
            _("{building} does not stand at {site}; choose a building of the site.").format(
                building=building, site=site
            )
        )
    if with_bittings and kind != Export.Kind.BINDER:
        raise Refused(
            _("A {label} holds no bittings; ask for the bitting list of a key system.").format(
                label=in_sentence(kind.label)
            )
        )
    if form == Export.Form.WORKBOOK and CONTENTS[kind].sheet is None:
        raise Refused(
            _("A {label} is made on paper alone. Choose paper.").format(label=in_sentence(kind.label))
        )
    export = Export(
        site=site, building=building, actor=actor, kind=kind, form=form, holds_bittings=with_bittings
    )
    return _register(export, reason)


def _register(export: Export, reason: str) -> Export:
    if not reason.strip():
        raise Refused(_("Say why you need it; the reason stands on the list and in the register."))
    if export.form == Export.Form.PDF:
        require_printer()
    export.reason = reason.strip()
    export.save(force_insert=True)
    what = in_english(Export.Kind(export.kind).label).lower()
    _record(export, "asked", f"asked for the {what} of {export.about}, export {export}: {export.reason}")
    if export.holds_bittings:
        ask_to_see(actor=export.actor, secret=list_to_make(export), reason=export.reason)
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
        words=f"every bitting of {export.about}, as export {export}",
        sites=(export.site,),
        open=lambda: _start(export),
        verb="export.released",
        url=page_of(export),
        roles=BITTING_TAKERS,
        is_high=True,
        about=(export.subject,),
    )


def page_of(export: Export) -> str:
    """Where it was asked for."""
    if export.system_id:
        return reverse("prints:system", args=[export.system_id])
    return reverse("prints:site", args=[export.site_id])


def find_export(actor: User, pk: UUID) -> Secret[Job]:
    return list_to_make(own_export(actor, pk))


def _to_make(actor: User, export: Export) -> Secret[Job]:
    export = held(Export.objects.select_related(*NAMES), export.pk)
    if export.actor != actor or not export.holds_bittings:
        raise PermissionDenied
    if export.job_id or export.made_at:
        raise Conflict(
            _("Export {export} is being made already, or was. Ask for a new one.").format(export=export)
        )
    return list_to_make(export)


@transaction.atomic
def _start(export: Export) -> Job:
    kind = Export.Kind(export.kind)
    is_secret_binder = kind == Export.Kind.BINDER and export.holds_bittings
    export.job = start_job(
        actor=export.actor,
        kind=WITH_BITTINGS if is_secret_binder else JOB_KINDS[kind],
        site=export.site,
        parameters={"export": str(export.pk)},
        subjects=[export.subject, export],
        back_url=page_of(export),
        about=export.about,
    )
    export.save(update_fields=["job"])
    return export.job


def make_list(running: Running) -> dict[str, Any]:
    """The job: read the rows, set them, keep the sealed file. Short enough to begin anew after a stop."""
    export = Export.objects.select_related(*NAMES).get(pk=running.parameters["export"])
    require_takers_role(running.actor, export)
    running.step(0, 1, _("Reading the rows"))
    contents = CONTENTS[Export.Kind(export.kind)]
    # History first, then the rows.
    _record(export, "opened", f"put {contents.count(export)} into export {export}")
    found = contents.read(export)
    is_paper = export.form == Export.Form.PDF
    content = _paper(running, export, found) if is_paper else _workbook(export, found)
    size = contents.size(found)
    with transaction.atomic():
        export.rows, export.made_at = size, timezone.now()
        export.save(update_fields=["rows", "made_at"])
        running.attach(export.file_name, PDF if is_paper else XLSX, content, subjects=[export])
        if export.holds_bittings:
            _tell_overseers(export)
    sentence = _("{kind} of {about}: {size} {noun}, export {export}.").format(
        kind=export.get_kind_display(),
        about=export.about,
        size=as_number(size),
        noun=contents.noun,
        export=export,
    )
    return {"sentence": sentence, "facts": {_("Export"): str(export), str(contents.noun).title(): size}}


def require_takers_role(actor: User, export: Export) -> None:
    """Asked again when the vault is about to open: the job may have waited."""
    kind = Export.Kind(export.kind)
    require_role(actor, export.site, *takers_of(kind, holds_bittings=export.holds_bittings))


def _paper(running: Running, export: Export, found: Any) -> bytes:
    """Its pages are estimated first, so that each step says how far it is."""
    total = pages_of(export, found)

    def told(done: int) -> None:
        running.step(
            min(done, total),
            total,
            _("Setting page {page} of about {total}").format(page=min(done + 1, total), total=total),
        )

    told(0)
    return CONTENTS[Export.Kind(export.kind)].paper(export, found, told)


def _workbook(export: Export, found: Any) -> bytes:
    contents = CONTENTS[Export.Kind(export.kind)]
    if contents.sheet is None:  # refused when it was asked for
        raise AssertionError
    sheet, head = listing.sheet_of(export, contents.noun, contents.size(found)), listing.head_of(export)
    mark = f"{head.made_by}, {head.when}, {head.number}"
    return write_workbook(
        [*sheet.facts, *((str(head), str(text)) for head, text in sheet.cautions)],
        contents.sheet(found),
        f"{head.kind}: {mark}",
    )


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
                "code": export.about,
                "actor": str(export.actor),
                "reason": export.reason,
                "rows": export.rows,
            },
            site=export.site,
            about=[export, export.subject],
            once_key=f"export_made:{export.pk}:{user.pk}",
        )


@transaction.atomic
def _record(export: Export, verb: str, sentence: str) -> None:
    record(
        actor=export.actor,
        verb=f"export.{verb}",
        sentence=sentence,
        site_id=export.site_id,
        subjects=[export, export.subject],
        detail={"export": export.number, "kind": export.kind, "form": export.form},
    )
