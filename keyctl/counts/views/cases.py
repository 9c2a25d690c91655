"""One difference: explained, closed, or opened again."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.counts import access, services
from keyctl.counts.forms import CaseForm, ExplainForm
from keyctl.counts.models import CountCase
from keyctl.counts.selectors.cases import is_proposed_lost
from keyctl.counts.views.answering import answer
from keyctl.lib.forms import ServiceForm


@require_GET
def case(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_case(request.user, pk))


@require_POST
def explain(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_case(request.user, pk)
    form = ExplainForm(request.POST, case=found, actor=request.user)
    if form.attempt(services.explain_case, actor=request.user, case=found):
        messages.success(request, _("Explained. Somebody looks at it and closes the case."))
        return redirect("counts:case", pk)
    return _page(request, found, form)


@require_POST
def close(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_case(request.user, pk)
    form = CaseForm(request.POST)
    if form.attempt(services.close_case, actor=request.user, case=found):
        messages.success(request, _("The case is closed."))
        return redirect("counts:case", pk)
    return _page(request, found, form)


@require_POST
def reopen(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_case(request.user, pk)
    form = CaseForm(request.POST)
    if form.attempt(services.reopen_case, actor=request.user, case=found):
        messages.success(request, _("The case is open again."))
        return redirect("counts:case", pk)
    return _page(request, found, form)


def _page(request: Request, found: CountCase, form: ServiceForm | None = None) -> HttpResponse:
    found = access.readable_case(request.user, found.pk)
    works = access.settles_cases(request.user, found.count.site)
    explaining = form if isinstance(form, ExplainForm) else ExplainForm(case=found, actor=request.user)
    facts = {
        "case": found,
        "form": form,
        "works": works,
        "explain": explaining if works and found.state == CountCase.State.OPEN else None,
        "is_proposed": is_proposed_lost(found, timezone.now()),
        "closes_another": found.is_weighty and found.counted_by_id == request.user.pk,
        "events": history_of(found),
    }
    return answer(request, "counts/case.html", facts, form)
