"""Approving and refusing."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from keyctl.accounts.http import Request
from keyctl.approvals import access, selectors, services
from keyctl.approvals.forms import ApproveForm, RefuseForm
from keyctl.approvals.views.detail import detail_page


@require_POST
def approve(request: Request, pk: UUID) -> HttpResponse:
    found = access.decidable_request(request.user, pk)
    form = ApproveForm(request.POST, proposals=selectors.proposals_for(found))
    if form.attempt(services.approve_request, actor=request.user, request=found):
        messages.success(request, "Approved. The key desk hands the keys out.")
        return redirect("approvals:detail", pk)
    return detail_page(request, found, form)


@require_POST
def refuse(request: Request, pk: UUID) -> HttpResponse:
    found = access.decidable_request(request.user, pk)
    form = RefuseForm(request.POST)
    if form.attempt(services.refuse_request, actor=request.user, request=found):
        messages.success(request, "Refused. Whoever asked reads your note.")
        return redirect("approvals:detail", pk)
    return detail_page(request, found, form)
