"""Bitting lists: brought in, their columns, the dry run, and the end."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl import engine
from keyctl.accounts.http import Request
from keyctl.inherited import access, selectors, services
from keyctl.inherited.columns import FIELDS
from keyctl.inherited.forms import BittingColumnsForm, BringForm, WriteForm
from keyctl.inherited.models import BittingList
from keyctl.inherited.services.bringing import sheet_of
from keyctl.jobs.models import Job
from keyctl.lib.forms import VersionForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role

PER_PAGE = 25
FINDINGS_PER_PAGE = 100
SHOWS = ("", "errors", "warnings")


@require_GET
def index(request: Request) -> HttpResponse:
    lists = selectors.lists_of(request.user)
    facts = {
        "page": Paginator(lists, PER_PAGE).get_page(request.GET.get("page")),
        "works": access.workable_sites(request.user).exists(),
    }
    return render(request, "inherited/list.html", facts)


@require_http_methods(["GET", "POST"])
def bring(request: Request) -> HttpResponse:
    access.refuse_idle(request.user)
    sent = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    form = BringForm(*sent, actor=request.user)
    if request.method == "POST" and (listed := form.attempt(services.bring_list, actor=request.user)):
        messages.success(request, _("The list is here, sealed. Say what its columns are."))
        return redirect("inherited:columns", listed.pk)
    return render(
        request, "inherited/bring.html", {"form": form}, status=UNPROCESSABLE if form.errors else 200
    )


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_list(request.user, pk))


@require_http_methods(["GET", "POST"])
def columns(request: Request, pk: UUID) -> HttpResponse:
    listed = access.workable_list(request.user, pk)
    if listed.state not in {BittingList.State.UPLOADED, BittingList.State.CHECKED}:
        return redirect("inherited:detail", listed.pk)
    form = BittingColumnsForm(request.POST or None, seen=listed, sheet=sheet_of(listed))
    if request.method == "POST":
        chosen = form.attempt(services.choose_columns, actor=request.user, listed=listed)
        if chosen:
            job = services.start_check(actor=request.user, listed=chosen, version=chosen.version)
            return redirect("jobs:detail", job.pk)
    facts = {"listed": listed, "form": form, "format": engine.load_format(listed.format_id)}
    return render(request, "inherited/columns.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def check(request: Request, pk: UUID) -> HttpResponse:
    listed = access.workable_list(request.user, pk)
    form = VersionForm(request.POST, seen=listed)
    job = form.attempt(services.start_check, actor=request.user, listed=listed)
    return _to_job(request, listed, form, job)


@require_POST
def write(request: Request, pk: UUID) -> HttpResponse:
    listed = access.workable_list(request.user, pk)
    form = WriteForm(request.POST, seen=listed)
    job = form.attempt(services.start_writing, actor=request.user, listed=listed)
    return _to_job(request, listed, form, job)


@require_POST
def leave(request: Request, pk: UUID) -> HttpResponse:
    listed = access.workable_list(request.user, pk)
    form = VersionForm(request.POST, seen=listed)
    if form.attempt(services.leave_list, actor=request.user, listed=listed) is None:
        return _page(request, listed, form)
    messages.success(request, _("The list is given up and its file deleted."))
    return redirect("inherited:list")


def _to_job(request: Request, listed: BittingList, form: VersionForm, job: Job | None) -> HttpResponse:
    return _page(request, listed, form) if job is None else redirect("jobs:detail", job.pk)


def _page(request: Request, listed: BittingList, form: VersionForm | None = None) -> HttpResponse:
    # After a refusal the page shows the list as it is now, which may be why it was refused.
    listed = access.readable_list(request.user, listed.pk)
    show = request.GET.get("show", "")
    show = show if show in SHOWS else ""
    found = Paginator(selectors.findings_shown(listed, show), FINDINGS_PER_PAGE)
    facts: dict[str, Any] = {
        "listed": listed,
        "format": engine.load_format(listed.format_id),
        "page": found.get_page(request.GET.get("page")),
        "show": show,
        "form": form,
        "columns": [FIELDS[name] for name in FIELDS if name in listed.columns],
        "works": listed.is_open and has_role(request.user, listed.site, *access.BRINGERS),
        "version_form": VersionForm(seen=listed),
        "write_form": form if isinstance(form, WriteForm) else WriteForm(seen=listed),
    }
    status = UNPROCESSABLE if form is not None and form.errors else 200
    return render(request, "inherited/detail.html", facts, status=status)
