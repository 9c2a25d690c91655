"""Handing out what was approved."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.approvals import access, services
from keyctl.approvals.forms import GrantForm
from keyctl.approvals.views.detail import status


@require_http_methods(["GET", "POST"])
def hand_out(request: Request, pk: UUID) -> HttpResponse:
    grant = access.workable_grant(request.user, pk)
    form = GrantForm(request.POST or None, grant=grant)
    if request.method == "POST":
        done = form.attempt(services.hand_out_grant, actor=request.user, grant=grant)
        if done:
            messages.success(request, f"Copy {done.copy} is now with {grant.request.holder}.")
            return redirect("approvals:detail", grant.request.pk)
    facts = {"grant": grant, "key_request": grant.request, "form": form, "stock": list(form.stock)}
    return render(request, "approvals/hand_out.html", facts, status=status(form))
