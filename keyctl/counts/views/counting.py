"""One count: begun, scanned, witnessed, closed."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.counts import access, services
from keyctl.counts.forms import CancelForm, ScanForm, StartForm, WitnessForm
from keyctl.counts.models import Count
from keyctl.counts.selectors import counting
from keyctl.counts.selectors.rules import rule_for
from keyctl.counts.services.counting import subject_of
from keyctl.counts.views.answering import answer
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE

SOUGHT_ON_A_PAGE = 25
ASKED = ("cabinet", "holder", "subject")
State = Count.State


@require_http_methods(["GET", "POST"])
def start(request: Request, pk: UUID) -> HttpResponse:
    site = access.counting_site(request.user, pk)
    asked = {name: request.GET[name] for name in ASKED if name in request.GET}
    scope = request.GET.get("scope", Count.Scope.CABINET)
    scope = scope if scope in Count.Scope.values else Count.Scope.CABINET
    data = request.POST if request.method == "POST" else None
    form = StartForm(data, site=site, scope=scope, actor=request.user, initial=asked)
    if request.method == "POST":
        begun = form.attempt(services.start_count, actor=request.user, site=site, scope=scope)
        if begun:
            return redirect("counts:scan", begun.pk)
    facts = {"site": site, "scope": scope, "scopes": Count.Scope.choices, "form": form}
    return answer(request, "counts/start.html", facts, form)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return _detail(request, access.readable_count(request.user, pk))


@require_POST
def begin(request: Request, pk: UUID) -> HttpResponse:
    count = access.workable_count(request.user, pk)
    form = WitnessForm(request.POST, site=count.site, actor=request.user)
    begun = form.attempt(services.begin_count, actor=request.user, count=count)
    return redirect("counts:scan", begun.pk) if begun else _detail(request, count, form)


@never_cache
@require_http_methods(["GET", "POST"])
def scan(request: Request, pk: UUID) -> HttpResponse:
    """A scanner types a serial and Enter. The answer says how many there are, never whether one belongs."""
    count = access.workable_count(request.user, pk)
    if count.state != State.RUNNING and request.method == "GET":
        return redirect("counts:detail", count.pk)
    form = ScanForm(request.POST or None)
    if request.method == "GET":
        return _scan_page(request, count, form)
    read = form.attempt(services.scan_keys, actor=request.user, count=count)
    if read and not request.htmx:
        for serial in read.repeated:
            messages.info(request, _("{serial} was scanned already and counts once.").format(serial=serial))
        return redirect("counts:scan", count.pk)
    return _scan_page(request, count, form, read=read)


@require_POST
def undo(request: Request, pk: UUID) -> HttpResponse:
    count = access.workable_count(request.user, pk)
    form = ServiceForm(request.POST)
    undone = form.attempt(services.undo_scan, actor=request.user, count=count)
    if undone and not request.htmx:
        return redirect("counts:scan", count.pk)
    return _scan_page(request, count, form, undone=undone)


@require_POST
def witness(request: Request, pk: UUID) -> HttpResponse:
    count = access.witnessed_count(request.user, pk)
    form = ServiceForm(request.POST)
    if form.attempt(services.confirm_witness, actor=request.user, count=count):
        messages.success(request, _("Confirmed. The counter can close the count now."))
        return redirect("counts:detail", count.pk)
    return _detail(request, count, form)


@require_POST
def close(request: Request, pk: UUID) -> HttpResponse:
    count = access.workable_count(request.user, pk)
    form = ServiceForm(request.POST)
    closed = form.attempt(services.close_count, actor=request.user, count=count)
    if closed:
        found = closed.difference_count
        words = (
            _("Everything is where it should be.")
            if not found
            else _("Differences: {found}. Each is a case now.").format(found=found)
        )
        messages.success(request, _("Closed. {words}").format(words=words))
        return redirect("counts:detail", count.pk)
    return _detail(request, count, form)


@require_POST
def cancel(request: Request, pk: UUID) -> HttpResponse:
    count = access.workable_count(request.user, pk)
    form = CancelForm(request.POST)
    if form.attempt(services.cancel_count, actor=request.user, count=count):
        messages.success(request, _("Given up. What was due stays due."))
        return redirect("counts:list")
    return _detail(request, count, form)


def _scan_page(request: Request, count: Count, form: ServiceForm, **facts: Any) -> HttpResponse:
    facts |= {"count": count, "form": form, "tally": counting.tally(count), "is_wrong": bool(form.errors)}
    if not count.is_blind:
        rows = counting.sought(count)
        facts["sought"] = Paginator(rows, SOUGHT_ON_A_PAGE).get_page(request.GET.get("page"))
    template = "counts/scan.html#scanned" if request.htmx else "counts/scan.html"
    return render(request, template, facts, status=UNPROCESSABLE if form.errors else 200)


def _detail(request: Request, count: Count, form: ServiceForm | None = None) -> HttpResponse:
    # After a refusal the page shows the count as it is now, which may be why it was refused.
    count = access.readable_count(request.user, count.pk)
    works = access.counts_at(request.user, count.site)
    facts: dict[str, Any] = {
        "count": count,
        "form": form,
        "works": works,
        "rule": count.rule or rule_for(count.site, subject_of(count)),
        "tally": counting.tally(count) if count.state == State.RUNNING else None,
        "is_witness": count.witness_id == request.user.pk,
        "handovers": count.handovers.select_related("giver", "taker"),
        "cases": counting.cases_of(count) if count.state == State.CLOSED else None,
        "events": history_of(count),
    }
    if works and count.is_open:
        facts["cancel"] = form if isinstance(form, CancelForm) else CancelForm(auto_id="cancel-%s")
        facts["begin"] = (
            form if isinstance(form, WitnessForm) else WitnessForm(site=count.site, actor=request.user)
        )
    return answer(request, "counts/detail.html", facts, form)
