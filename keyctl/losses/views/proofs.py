"""Asking for the proof, and what it read and found."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.forms import VersionForm
from keyctl.losses import access, selectors, services
from keyctl.losses.views.page import show_case

LEFT_ON_A_PAGE = 50


@require_POST
def prove(request: Request, pk: UUID) -> HttpResponse:
    case = access.provable_case(request.user, pk)
    form = VersionForm(request.POST, seen=case)
    proof = form.attempt(services.prove_case, actor=request.user, case=case)
    if proof is None:
        return show_case(request, case, form)
    if proof.job is not None:
        return redirect("jobs:detail", proof.job.pk)
    if proof.is_clean:
        messages.success(request, _("Proven: the lost keys turn nothing."))
    else:
        messages.warning(request, _("Not proven: the lost keys still work somewhere. Here is where."))
    return redirect("losses:proof", proof.pk)


@require_GET
def proof(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_proof(request.user, pk)
    left = found.left_overs.filter(site__in=access.readable_sites(request.user))
    page = Paginator(left.select_related("core", "symbol", "site"), LEFT_ON_A_PAGE)
    facts = {
        "proof": found,
        "case": found.case,
        "keys": selectors.lost_copies(found.case),
        "page": page.get_page(request.GET.get("page")),
        "elsewhere": found.left_overs.count() - left.count(),
        "is_last": selectors.last_proof(found.case) == found,
        "state": selectors.proof_state(found.case),
    }
    return render(request, "losses/proof.html", facts)
