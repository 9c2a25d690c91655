"""The list of requests; asking by doors, and withdrawing."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request, partial
from keyctl.approvals import access, selectors, services
from keyctl.approvals.finding import doors_to_choose, floor_named
from keyctl.approvals.forms import AskForm
from keyctl.approvals.knowing import known_doors
from keyctl.approvals.lists import REQUESTS, waiting_rows
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.previewing import preview_of
from keyctl.approvals.views.detail import status
from keyctl.listing.shown import shown_list
from keyctl.places.models import Building, DoorQuerySet

PER_PAGE = 25
# Buttons that change what the page offers and ask for nothing yet.
LOOKING = {"find", "preview", "all"}


@require_GET
def index(request: Request) -> HttpResponse:
    shown = shown_list(request, REQUESTS)
    if shown.leads_to:
        return redirect(shown.leads_to)
    mine = shown.ordered(waiting_rows(request.user, shown.said))
    rest = shown.ordered(REQUESTS.rows(request.user, shown.said))
    waiting = Paginator(mine, PER_PAGE).get_page(request.GET.get("waiting"))
    others = Paginator(rest, PER_PAGE).get_page(request.GET.get("page"))
    facts = {
        "shown": shown,
        "query": shown.query,
        "states": KeyRequest.State.choices,
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
    known = known_doors(request.user, building.site).filter(floor__building=building)
    if request.method == "GET" or request.POST.keys() & LOOKING:
        # Looking for doors keeps what was typed, and complains about nothing yet.
        typed = AskForm(initial=request.POST.dict() or None, building=building, known=known)
        return _ask_page(request, building, known, typed)
    form = AskForm(request.POST, building=building, known=known)
    made = form.attempt(services.ask_for_key, actor=request.user)
    if made:
        messages.success(request, _("Asked. This page shows how far it has come."))
        return redirect("approvals:detail", made.pk)
    return _ask_page(request, building, known, form)


@require_POST
def withdraw(request: Request, pk: UUID) -> HttpResponse:
    found = access.withdrawable_request(request.user, pk)
    services.withdraw_request(actor=request.user, request=found)
    messages.success(request, _("Withdrawn. Nobody decides it any more."))
    return redirect("approvals:detail", pk)


def _ask_page(request: Request, building: Building, known: DoorQuerySet, form: AskForm) -> HttpResponse:
    text = request.POST.get("q", "").strip()
    floor = floor_named(building, request.POST.get("floor", ""))
    choice = doors_to_choose(known, text, floor, request.POST.getlist("doors"))
    if "all" in request.POST:
        shown = [str(door.pk) for door in [*choice.chosen, *choice.found]]
        choice = doors_to_choose(known, text, floor, shown)
    facts = {
        "building": building,
        "floors": building.floors.all(),
        "floor": floor,
        "form": form,
        "text": text,
        "choice": choice,
        "preview": preview_of([door.pk for door in choice.chosen], building.site),
    }
    if request.htmx and "preview" in request.POST:
        return render(request, "approvals/_preview.html", facts)
    template = partial(request, "approvals/ask_building.html", "picking")
    return render(request, template, facts, status=status(form))
