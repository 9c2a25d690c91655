"""Imports: brought in, their columns, the dry run, taking and undoing."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.directory.access import keeps_people
from keyctl.imports import access, selectors, services
from keyctl.imports.forms import BringForm, FileColumnsForm, TakeForm
from keyctl.imports.kinds import find_kind, kind_of
from keyctl.imports.models import Import
from keyctl.imports.services.bringing import sheet_of
from keyctl.jobs.models import Job
from keyctl.lib.forms import VersionForm
from keyctl.lib.http import UNPROCESSABLE

PER_PAGE = 25
ROWS_PER_PAGE = 50


@require_GET
def index(request: Request) -> HttpResponse:
    access.refuse_idle(request.user)
    imports = Paginator(selectors.imports_of(request.user), PER_PAGE)
    page = imports.get_page(request.GET.get("page"))
    rows = [(each, kind.label if (kind := find_kind(each.kind)) else each.kind) for each in page]
    return render(request, "imports/list.html", {"page": page, "rows": rows})


@require_GET
def choose(request: Request) -> HttpResponse:
    """Which kind of file. Bitting lists and lists of all people have pages of their own."""
    access.refuse_idle(request.user)
    facts = {
        "kinds": access.offered_kinds(request.user),
        "brings_bittings": access.brings_bittings(request.user),
        "brings_people": keeps_people(request.user),
    }
    return render(request, "imports/new.html", facts)


@require_http_methods(["GET", "POST"])
def bring(request: Request, kind: str) -> HttpResponse:
    wanted = access.offered_kind(request.user, kind)
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = BringForm(*sent, actor=request.user, kind=wanted)
    if request.method == "POST":
        imported = form.attempt(services.bring_file, actor=request.user, kind=wanted)
        if imported and wanted.fields:
            messages.success(request, _("The file is here, sealed. Say what its columns are."))
            return redirect("imports:columns", imported.pk)
        if imported:
            job = services.start_trying(actor=request.user, imported=imported, version=imported.version)
            return redirect("jobs:detail", job.pk)
    facts = {"form": form, "kind": wanted}
    return render(request, "imports/bring.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.workable_import(request.user, pk))


@require_GET
def report(request: Request, pk: UUID) -> StreamingHttpResponse:
    imported = access.workable_import(request.user, pk)
    answer = StreamingHttpResponse(
        selectors.report_parts(imported, kind_of(imported)), content_type="text/csv; charset=utf-8"
    )
    answer["Content-Disposition"] = content_disposition_header(True, "import.csv") or "attachment"
    return answer


@require_http_methods(["GET", "POST"])
def columns(request: Request, pk: UUID) -> HttpResponse:
    imported = access.workable_import(request.user, pk)
    kind = kind_of(imported)
    if imported.state not in {Import.State.UPLOADED, Import.State.CHECKED} or not kind.fields:
        return redirect("imports:detail", imported.pk)
    form = FileColumnsForm(request.POST or None, seen=imported, kind=kind, sheet=sheet_of(imported))
    if request.method == "POST":
        chosen = form.attempt(services.choose_columns, actor=request.user, imported=imported)
        if chosen:
            job = services.start_trying(actor=request.user, imported=chosen, version=chosen.version)
            return redirect("jobs:detail", job.pk)
    facts = {"imported": imported, "kind": kind, "form": form}
    return render(request, "imports/columns.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def try_again(request: Request, pk: UUID) -> HttpResponse:
    imported = access.workable_import(request.user, pk)
    form = VersionForm(request.POST, seen=imported)
    job = form.attempt(services.start_trying, actor=request.user, imported=imported)
    return _to_job(request, imported, form, job)


@require_POST
def take(request: Request, pk: UUID) -> HttpResponse:
    imported = access.workable_import(request.user, pk)
    form = TakeForm(request.POST, seen=imported)
    job = form.attempt(services.start_taking, actor=request.user, imported=imported)
    return _to_job(request, imported, form, job)


@require_POST
def undo(request: Request, pk: UUID) -> HttpResponse:
    imported = access.workable_import(request.user, pk)
    form = VersionForm(request.POST, seen=imported)
    job = form.attempt(services.start_undoing, actor=request.user, imported=imported)
    return _to_job(request, imported, form, job)


@require_POST
def leave(request: Request, pk: UUID) -> HttpResponse:
    imported = access.workable_import(request.user, pk)
    form = VersionForm(request.POST, seen=imported)
    if form.attempt(services.give_up, actor=request.user, imported=imported) is None:
        return _page(request, imported, form)
    messages.success(request, _("The import is given up and its file deleted."))
    return redirect("imports:list")


def _to_job(request: Request, imported: Import, form: VersionForm, job: Job | None) -> HttpResponse:
    return _page(request, imported, form) if job is None else redirect("jobs:detail", job.pk)


def _page(request: Request, imported: Import, form: VersionForm | None = None) -> HttpResponse:
    # After a refusal the page shows the import as it is now, which may be why it was refused.
    imported = access.workable_import(request.user, imported.pk)
    kind, show = kind_of(imported), request.GET.get("show", "")
    show = show if show in (*selectors.SHOWS, *(thing.name for thing in kind.things)) else ""
    # Where nothing would change, what was found is what one looks for.
    show = show or ("" if selectors.changes_of(imported, "").exists() else "errors")
    rows = selectors.faults_of(imported) if show == "errors" else selectors.changes_of(imported, show)
    facts: dict[str, Any] = {
        "imported": imported,
        "kind": kind,
        "figures": selectors.figures_of(imported),
        "page": Paginator(rows, ROWS_PER_PAGE).get_page(request.GET.get("page")),
        "show": show,
        "query": f"show={show}" if show else "",
        "form": form,
        "columns": [field.plainly for field in kind.fields if field.name in imported.columns],
        "version_form": VersionForm(seen=imported),
        "take_form": form if isinstance(form, TakeForm) else TakeForm(seen=imported),
        "at_work": Job.objects.about(imported).unfinished().exists(),
    }
    status = UNPROCESSABLE if form is not None and form.errors else 200
    return render(request, "imports/detail.html", facts, status=status)
