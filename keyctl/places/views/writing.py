"""Writing the estate down by hand, place by place; for administrators."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places import access, services
from keyctl.places.models import Building, Membership, Site
from keyctl.places.writing import (
    BuildingForm,
    DoorForm,
    FloorForm,
    ManagerForm,
    PersonForm,
    RoleForm,
    SiteForm,
)


@require_GET
def index(request: Request) -> HttpResponse:
    return render(request, "places/list.html", places_page(request))


@require_POST
def new_building(request: Request, pk: UUID) -> HttpResponse:
    site = access.administered_site(request.user, pk)
    form = _building_form(site, request.POST)
    made = form.attempt(services.add_building, actor=request.user, site=site)
    if made:
        return redirect("places:building", pk=made.pk)
    return render(request, "places/list.html", places_page(request, {site.pk: form}), status=UNPROCESSABLE)


@require_GET
def building(request: Request, pk: UUID) -> HttpResponse:
    return building_page(request, access.administered_building(request.user, pk))


@require_POST
def new_floor(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_building(request.user, pk)
    form = FloorForm(request.POST)
    made = form.attempt(services.add_floor, actor=request.user, building=found)
    return (
        _done(request, found, _("{made} is there.").format(made=made))
        if made
        else building_page(request, found, floor_form=form)
    )


@require_POST
def new_door(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_building(request.user, pk)
    form = DoorForm(request.POST, building=found)
    made = form.attempt(services.add_door_with_housing, actor=request.user)
    if made:
        return _done(request, found, _("Door {made} is there.").format(made=made))
    return building_page(request, found, door_form=form)


@require_POST
def new_manager(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_building(request.user, pk)
    form = ManagerForm(request.POST)
    made = form.attempt(services.name_manager, actor=request.user, building=found)
    if made:
        return _done(
            request, found, _("{user} decides requests for {found}.").format(user=made.user, found=found)
        )
    return building_page(request, found, manager_form=form)


@never_cache
@require_http_methods(["GET", "POST"])
def people(request: Request) -> HttpResponse:
    """Who holds which role. A new person's code for the first sign-in is on the answer and nowhere else."""
    access.require_administrator(request.user)
    sites = access.administered_sites(request.user)
    form = PersonForm(request.POST or None, sites=sites)
    made = form.attempt(services.add_person, actor=request.user) if request.method == "POST" else None
    context = people_page(request) | {"form": form if made is None else PersonForm(sites=sites), "made": made}
    return render(request, "places/people.html", context, status=UNPROCESSABLE if form.errors else 200)


def people_page(request: Request) -> dict[str, Any]:
    sites = access.administered_sites(request.user)
    memberships = Membership.objects.filter(site__in=sites).select_related("user", "site")
    return {
        "form": PersonForm(sites=sites),
        "role_form": RoleForm(sites=sites, auto_id="role_%s"),
        "memberships": memberships.order_by("site__code", "user__username", "role"),
    }


def places_page(request: Request, refused: Mapping[UUID, BuildingForm] | None = None) -> dict[str, Any]:
    """Each site has a form of its own; the one that was refused is shown again as it was filled in."""
    access.require_administrator(request.user)
    sites = access.administered_sites(request.user)
    buildings = Building.objects.filter(site__in=sites).annotate(doors=Count("floors__doors"))
    return {
        "sites": [(site, (refused or {}).get(site.pk) or _building_form(site)) for site in sites],
        "buildings": buildings.select_related("site").order_by("site__code", "code"),
        "site_form": SiteForm(auto_id="site_%s"),
    }


def _building_form(site: Site, data: Any = None) -> BuildingForm:
    return BuildingForm(data, auto_id=f"{site.code}-%s")


def _done(request: Request, found: Building, sentence: str) -> HttpResponse:
    messages.success(request, sentence)
    return redirect("places:building", pk=found.pk)


def building_page(request: Request, found: Building, **forms: Any) -> HttpResponse:
    context = {
        "building": found,
        "floors": found.floors.annotate(count=Count("doors")).order_by("level"),
        "managers": found.managers.select_related("user"),
        "change_form": BuildingForm(initial={"code": found.code, "name": found.name}, auto_id="building_%s"),
        "floor_form": FloorForm(auto_id="floor_%s"),
        "door_form": DoorForm(building=found, auto_id="door_%s"),
        "manager_form": ManagerForm(auto_id="manager_%s"),
    }
    return render(request, "places/building.html", context | forms, status=UNPROCESSABLE if forms else 200)
