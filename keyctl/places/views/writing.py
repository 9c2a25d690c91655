"""Writing the estate down by hand, place by place; for administrators."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places import access, services
from keyctl.places.models import Building, Membership
from keyctl.places.writing import BuildingForm, DoorForm, FloorForm, ManagerForm, PersonForm


@require_GET
def index(request: Request) -> HttpResponse:
    return render(request, "places/list.html", _list(request))


@require_POST
def new_building(request: Request, pk: UUID) -> HttpResponse:
    site = access.administered_site(request.user, pk)
    form = BuildingForm(request.POST)
    made = form.attempt(services.add_building, actor=request.user, site=site)
    if made:
        return redirect("places:building", pk=made.pk)
    return render(request, "places/list.html", _list(request) | {"form": form}, status=UNPROCESSABLE)


@require_GET
def building(request: Request, pk: UUID) -> HttpResponse:
    return _building(request, access.administered_building(request.user, pk))


@require_POST
def new_floor(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_building(request.user, pk)
    form = FloorForm(request.POST)
    made = form.attempt(services.add_floor, actor=request.user, building=found)
    return _done(request, found, f"{made} is there.") if made else _building(request, found, floor_form=form)


@require_POST
def new_door(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_building(request.user, pk)
    form = DoorForm(request.POST, building=found)
    made = form.attempt(services.add_door_with_housing, actor=request.user)
    if made:
        return _done(request, found, f"Door {made} is there.")
    return _building(request, found, door_form=form)


@require_POST
def new_manager(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_building(request.user, pk)
    form = ManagerForm(request.POST)
    made = form.attempt(services.name_manager, actor=request.user, building=found)
    if made:
        return _done(request, found, f"{made.user} decides requests for {found}.")
    return _building(request, found, manager_form=form)


@never_cache
@require_http_methods(["GET", "POST"])
def people(request: Request) -> HttpResponse:
    """Who holds which role. A new person's code for the first sign-in is on the answer and nowhere else."""
    access.require_administrator(request.user)
    sites = access.administered_sites(request.user)
    form = PersonForm(request.POST or None, sites=sites)
    made = form.attempt(services.add_person, actor=request.user) if request.method == "POST" else None
    memberships = Membership.objects.filter(site__in=sites).select_related("user", "site")
    context = {
        "form": form if made is None else PersonForm(sites=sites),
        "made": made,
        "memberships": memberships.order_by("site__code", "user__username", "role"),
    }
    return render(request, "places/people.html", context, status=UNPROCESSABLE if form.errors else 200)


def _list(request: Request) -> dict[str, Any]:
    access.require_administrator(request.user)
    sites = access.administered_sites(request.user)
    buildings = Building.objects.filter(site__in=sites).annotate(doors=Count("floors__doors"))
    return {
        "sites": sites,
        "buildings": buildings.select_related("site").order_by("site__code", "code"),
        "form": BuildingForm(),
    }


def _done(request: Request, found: Building, sentence: str) -> HttpResponse:
    messages.success(request, sentence)
    return redirect("places:building", pk=found.pk)


def _building(request: Request, found: Building, **forms: Any) -> HttpResponse:
    context = {
        "building": found,
        "floors": found.floors.annotate(count=Count("doors")).order_by("level"),
        "managers": found.managers.select_related("user"),
        "floor_form": FloorForm(auto_id="floor_%s"),
        "door_form": DoorForm(building=found, auto_id="door_%s"),
        "manager_form": ManagerForm(auto_id="manager_%s"),
    }
    return render(request, "places/building.html", context | forms, status=UNPROCESSABLE if forms else 200)
