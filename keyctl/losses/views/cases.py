"""The list of losses, the page of one, what is written into it, and its end."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.losses import access, selectors, services
from keyctl.losses.forms import CancelForm, CloseForm, FactsForm, JoinForm, NoteForm, ReopenForm
from keyctl.losses.views.page import act, show_case

PER_PAGE = 25


@require_GET
def index(request: Request) -> HttpResponse:
    cases = selectors.cases_by_state(request.user)
    page = Paginator(cases, PER_PAGE).get_page(request.GET.get("page"))
    facts = {
        "page": page,
        "rows": selectors.case_rows(page),
        "reports": access.visible_reports(request.user).filter(state="waiting"),
        "rules": access.rules_at_all(request.user),
    }
    return render(request, "losses/list.html", facts)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return show_case(request, access.readable_case(request.user, pk))


@require_POST
def look(request: Request, pk: UUID) -> HttpResponse:
    case = access.readable_case(request.user, pk)
    job = services.look(actor=request.user, case=case)
    if job is not None:
        return redirect("jobs:detail", job.pk)
    messages.success(request, _("Looked again at what the lost keys open."))
    return redirect("losses:detail", case.pk)


@require_POST
def note(request: Request, pk: UUID) -> HttpResponse:
    case = access.notable_case(request.user, pk)
    return act(request, case, NoteForm(request.POST), services.add_note, _("Written down."))


@require_http_methods(["GET", "POST"])
def facts(request: Request, pk: UUID) -> HttpResponse:
    """What is known of one lost copy."""
    lost = access.notable_copy(request.user, pk)
    form = FactsForm(request.POST or None, lost=lost)
    if request.method == "POST" and (
        _told := form.attempt(services.tell_facts, actor=request.user, lost=lost)
    ):
        messages.success(request, _("Written down."))
        return redirect("losses:detail", lost.case_id)
    facts = {"lost": lost, "form": form}
    return render(request, "losses/facts.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def join(request: Request, pk: UUID) -> HttpResponse:
    case = access.decidable_case(request.user, pk)
    form = JoinForm(request.POST, seen=case)
    return act(
        request, case, form, services.join_cases, _("The copies of the other case are in this one now.")
    )


@require_POST
def close(request: Request, pk: UUID) -> HttpResponse:
    case = access.decidable_case(request.user, pk)
    return act(
        request, case, CloseForm(request.POST, seen=case), services.close_case, _("The case is closed.")
    )


@require_POST
def cancel(request: Request, pk: UUID) -> HttpResponse:
    case = access.decidable_case(request.user, pk)
    form = CancelForm(request.POST, seen=case)
    return act(request, case, form, services.cancel_case, _("The case is cancelled."))


@require_POST
def reopen(request: Request, pk: UUID) -> HttpResponse:
    case = access.decidable_case(request.user, pk)
    form = ReopenForm(request.POST, seen=case)
    return act(request, case, form, services.reopen_case, _("The case is open again."))
