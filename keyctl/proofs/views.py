"""All proofs, one proof with what it found, and what an officer accepts."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request, partial
from keyctl.lib.days import day
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import require_some
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.proofs import access, selectors
from keyctl.proofs.forms import AcceptForm, FindingFilter, ProveForm
from keyctl.proofs.models import Finding, Proof
from keyctl.proofs.services import accept_finding, end_acceptance, start_proof

PROOFS_ON_A_PAGE = 25
FINDINGS_ON_A_PAGE = 50


@require_GET
def proof_list(request: Request) -> HttpResponse:
    access.require_reader(request.user)
    return _list(request, None)


@require_POST
def prove(request: Request) -> HttpResponse:
    access.require_reader(request.user)
    require_some(access.provable_sites(request.user))
    form = ProveForm(request.POST, actor=request.user)
    if job := form.attempt(start_proof, actor=request.user):
        return redirect("jobs:detail", pk=job.pk)
    return _list(request, form)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    proof = access.readable_proof(request.user, pk)
    form = FindingFilter(request.GET, sites=selectors.sites_with_findings(request.user, proof))
    wanted, site = form.chosen(), form.chosen_site
    found = selectors.listed_findings(request.user, proof, wanted, site)
    page = Paginator(found, FINDINGS_ON_A_PAGE).get_page(request.GET.get("page"))
    words = wanted | {"site": str(site.pk) if site else ""}
    context = {
        "proof": proof,
        "figures": selectors.figures_of(request.user, proof),
        "causes": selectors.by_cause(request.user, proof),
        "form": form,
        "view": wanted["view"],
        "page": page,
        "rows": _rows(request, list(page)),
        "query": urlencode({name: word for name, word in words.items() if word}),
    }
    return render(request, partial(request, "proofs/detail.html", "findings"), context)


@require_http_methods(["GET", "POST"])
def accept(request: Request, pk: int) -> HttpResponse:
    """A page of its own: who lets a finding be says why and until when."""
    finding = access.acceptable_finding(request.user, pk)
    form = AcceptForm(request.POST or None)
    if request.method == "POST" and (
        held := form.attempt(accept_finding, actor=request.user, finding=finding)
    ):
        messages.success(request, _("Accepted until {until}.").format(until=day(held.until)))
        return redirect("proofs:detail", pk=finding.proof_id)
    context = {"finding": finding, "form": form, "held": selectors.acceptances_of(finding).first()}
    return render(request, "proofs/accept.html", context, status=UNPROCESSABLE if form.is_bound else 200)


@require_POST
def end(request: Request, pk: UUID) -> HttpResponse:
    acceptance = access.endable_acceptance(request.user, pk)
    end_acceptance(actor=request.user, acceptance=acceptance)
    messages.success(request, _("The finding is open again."))
    last = Proof.objects.filter(findings__core=acceptance.core, finished_at__isnull=False).first()
    return redirect("proofs:detail", pk=last.pk) if last else redirect("proofs:list")


def _list(request: Request, form: ProveForm | None) -> HttpResponse:
    proofs = selectors.listed_proofs(request.user)
    may_prove = access.provable_sites(request.user).exists()
    context = {
        "page": Paginator(proofs, PROOFS_ON_A_PAGE).get_page(request.GET.get("page")),
        "form": form or (ProveForm(actor=request.user) if may_prove else None),
    }
    return render(request, "proofs/list.html", context, status=UNPROCESSABLE if form else 200)


def _rows(request: Request, findings: list[Finding]) -> list[dict[str, Any]]:
    """Each finding of the page with its acceptance and whether the reader may accept it."""
    held = selectors.acceptances_by_finding(findings)
    mine = set(Site.objects.for_roles(request.user, Role.OFFICER).values_list("pk", flat=True))
    return [
        {"finding": each, "held": held.get(each.pk), "may_accept": each.site_id in mine} for each in findings
    ]
