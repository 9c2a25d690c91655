"""Asking for keys, deciding, and handing out what was approved."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request, partial
from keyctl.approvals import access, selectors, services
from keyctl.approvals.forms import ApproveForm, AskForm, GrantForm, RefuseForm
from keyctl.approvals.models import KeyRequest
from keyctl.audit.selectors import history_of
from keyctl.keys.access import reads_keys
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.models import Building

PER_PAGE = 25
State = KeyRequest.State


@require_GET
def index(request: Request) -> HttpResponse:
    waiting = Paginator(selectors.waiting_for(request.user), PER_PAGE).get_page(request.GET.get("waiting"))
    others = Paginator(selectors.other_requests(request.user), PER_PAGE).get_page(request.GET.get("page"))
    facts = {
        "waiting": waiting,
        "waiting_rows": selectors.rows(list(waiting)),
        "page": others,
        "rows": selectors.rows(list(others)),
        "holders": request.user.holders.select_related("site"),
    }
    return render(request, "approvals/list.html", facts)


@require_GET
def ask(request: Request) -> HttpResponse:
    return render(request, "approvals/ask.html", {"buildings": access.asking_buildings(request.user)})


@require_http_methods(["GET", "POST"])
def ask_building(request: Request, pk: UUID) -> HttpResponse:
    building = access.asking_building(request.user, pk)
    if request.method == "GET" or "find" in request.POST:
        # Looking for doors keeps what was typed, and complains about nothing yet.
        return _ask_page(request, building, AskForm(initial=request.POST.dict() or None, building=building))
    form = AskForm(request.POST, building=building)
    made = form.attempt(services.ask_for_key, actor=request.user)
    if made:
        messages.success(request, "Asked. This page shows how far it has come.")
        return redirect("approvals:detail", made.pk)
    return _ask_page(request, building, form)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return _detail_page(request, access.readable_request(request.user, pk))


@require_POST
def approve(request: Request, pk: UUID) -> HttpResponse:
    found = access.decidable_request(request.user, pk)
    form = ApproveForm(request.POST, proposals=selectors.proposals_for(found))
    if form.attempt(services.approve_request, actor=request.user, request=found):
        messages.success(request, "Approved. The key desk hands the keys out.")
        return redirect("approvals:detail", pk)
    return _detail_page(request, found, form)


@require_POST
def refuse(request: Request, pk: UUID) -> HttpResponse:
    found = access.decidable_request(request.user, pk)
    form = RefuseForm(request.POST)
    if form.attempt(services.refuse_request, actor=request.user, request=found):
        messages.success(request, "Refused. Whoever asked reads your note.")
        return redirect("approvals:detail", pk)
    return _detail_page(request, found, form)


@require_POST
def withdraw(request: Request, pk: UUID) -> HttpResponse:
    found = access.withdrawable_request(request.user, pk)
    services.withdraw_request(actor=request.user, request=found)
    messages.success(request, "Withdrawn. Nobody decides it any more.")
    return redirect("approvals:detail", pk)


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
    return render(request, "approvals/hand_out.html", facts, status=_status(form))


def _ask_page(request: Request, building: Building, form: AskForm) -> HttpResponse:
    text = request.POST.get("q", "").strip()
    facts = {
        "building": building,
        "form": form,
        "text": text,
        "choice": selectors.doors_to_choose(building, text, request.POST.getlist("doors")),
    }
    return render(
        request, partial(request, "approvals/ask_building.html", "doors"), facts, status=_status(form)
    )


def _detail_page(request: Request, found: KeyRequest, form: ServiceForm | None = None) -> HttpResponse:
    # After a refusal the page shows the request as it is now, which may be why it was refused.
    found = access.readable_request(request.user, found.pk)
    facts = {
        "key_request": found,
        "doors": found.doors.with_places(),
        "steps": selectors.steps(found),
        "waits_for": selectors.waits_for(found),
        "form": form,
        "can_withdraw": found.state == State.ASKED and found.requester_id == request.user.pk,
        **(_staff_facts(request, found) if access.sees_keys(request.user, found) else {}),
    }
    return render(request, "approvals/detail.html", facts, status=_status(form))


def _staff_facts(request: Request, found: KeyRequest) -> dict[str, Any]:
    """Keys are named to those who decide, hand out or watch; not to who asks."""
    facts: dict[str, Any] = {
        "sees_keys": True,
        "reads_holders": reads_keys(request.user, found.building.site),
        "events": history_of(found),
        "works_the_desk": access.works_the_desk(request.user, found),
        "grant_lines": selectors.grant_lines(found),
    }
    if found.state == State.ASKED:
        proposals = selectors.proposals_for(found)
        facts |= {
            "effects": selectors.effects(request.user, found, proposals),
            "closed_doors": selectors.doors_without_opener(found),
            "manages": access.manages(request.user, found),
            "is_own": request.user.pk in {found.requester_id, found.holder_user_id},
        }
    return facts


def _status(form: ServiceForm | None) -> int:
    return UNPROCESSABLE if form is not None and form.errors else 200
