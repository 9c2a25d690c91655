"""The list of requests; asking by doors, and withdrawing."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request, partial
from keyctl.approvals import access, selectors, services
from keyctl.approvals.forms import AskForm
from keyctl.approvals.views.detail import status
from keyctl.places.models import Building

PER_PAGE = 25


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


@require_POST
def withdraw(request: Request, pk: UUID) -> HttpResponse:
    found = access.withdrawable_request(request.user, pk)
    services.withdraw_request(actor=request.user, request=found)
    messages.success(request, "Withdrawn. Nobody decides it any more.")
    return redirect("approvals:detail", pk)


def _ask_page(request: Request, building: Building, form: AskForm) -> HttpResponse:
    text = request.POST.get("q", "").strip()
    facts = {
        "building": building,
        "form": form,
        "text": text,
        "choice": selectors.doors_to_choose(building, text, request.POST.getlist("doors")),
    }
    return render(
        request, partial(request, "approvals/ask_building.html", "doors"), facts, status=status(form)
    )
