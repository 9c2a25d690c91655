"""Approving and refusing."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from keyctl.accounts.http import Request
from keyctl.approvals import access, services
from keyctl.approvals.forms import ApproveForm, ApproveStepForm, RefuseForm
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.progress import waits_for
from keyctl.approvals.views.detail import detail_page


@require_POST
def approve(request: Request, pk: UUID) -> HttpResponse:
    """One act: whoever chooses the keys posts a proposal, whoever decides after them the keys' effect."""
    found = access.decidable_request(request.user, pk)
    is_first = "keys" not in request.POST
    form = ApproveForm(request.POST) if is_first else ApproveStepForm(request.POST)
    service = services.approve_request if is_first else services.approve_step
    if done := form.attempt(service, actor=request.user, request=found):
        messages.success(request, _said(done))
        return redirect("approvals:detail", pk)
    return detail_page(request, found, form)


@require_POST
def refuse(request: Request, pk: UUID) -> HttpResponse:
    found = access.decidable_request(request.user, pk)
    form = RefuseForm(request.POST)
    if form.attempt(services.refuse_request, actor=request.user, request=found):
        messages.success(request, _("Refused. Whoever asked reads your note."))
        return redirect("approvals:detail", pk)
    return detail_page(request, found, form)


def _said(done: KeyRequest) -> str:
    if done.state == KeyRequest.State.ASKED:
        return _("Approved. Next it waits for {waits_for}.").format(waits_for=waits_for(done))
    return _("Approved. The keys are being made ready.")
