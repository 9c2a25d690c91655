"""Changing and removing buildings, floors and spaces; for administrators."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places import access, services
from keyctl.places.models import Floor, Space
from keyctl.places.views.writing import building_page
from keyctl.places.writing import BuildingForm, FloorForm, RemoveForm, SpaceForm


@require_POST
def change_building(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_building(request.user, pk)
    form = BuildingForm(request.POST)
    if not form.attempt(services.change_building, actor=request.user, building=found):
        return building_page(request, found, change_form=form)
    messages.success(request, _("The building is changed."))
    return redirect("places:building", pk=pk)


@require_POST
def remove_building(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_building(request.user, pk)
    form = RemoveForm(request.POST)
    form.attempt(services.remove_building, actor=request.user, building=found)
    if form.errors:
        return building_page(request, found, remove_form=form)
    messages.success(request, _("The building {found} is removed.").format(found=found))
    return redirect("places:list")


@require_http_methods(["GET", "POST"])
def floor(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_floor(request.user, pk)
    form = FloorForm(request.POST or None, initial={"label": found.label, "level": found.level})
    if (
        request.method == "POST"
        and form.attempt(services.change_floor, actor=request.user, floor=found) is not None
    ):
        messages.success(request, _("The floor is changed."))
        return redirect("places:floor", pk=pk)
    return _floor(request, found, **({"change_form": form} if form.is_bound else {}))


@require_POST
def new_space(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_floor(request.user, pk)
    form = SpaceForm(request.POST)
    made = form.attempt(services.add_space, actor=request.user, floor=found)
    if made is None:
        return _floor(request, found, space_form=form)
    messages.success(request, _("The space {made} is there.").format(made=made))
    return redirect("places:floor", pk=pk)


@require_POST
def remove_floor(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_floor(request.user, pk)
    form = RemoveForm(request.POST)
    form.attempt(services.remove_floor, actor=request.user, floor=found)
    if form.errors:
        return _floor(request, found, remove_form=form)
    messages.success(request, _("The floor {found} is removed.").format(found=found))
    return redirect("places:building", pk=found.building_id)


@require_http_methods(["GET", "POST"])
def space(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_space(request.user, pk)
    form = SpaceForm(request.POST or None, initial={"number": found.number, "name": found.name})
    if (
        request.method == "POST"
        and form.attempt(services.change_space, actor=request.user, space=found) is not None
    ):
        messages.success(request, _("The space is changed."))
        return redirect("places:floor", pk=found.floor_id)
    return _space(request, found, **({"change_form": form} if form.is_bound else {}))


@require_POST
def remove_space(request: Request, pk: UUID) -> HttpResponse:
    found = access.administered_space(request.user, pk)
    form = RemoveForm(request.POST)
    form.attempt(services.remove_space, actor=request.user, space=found)
    if form.errors:
        return _space(request, found, remove_form=form)
    messages.success(request, _("The space {found} is removed.").format(found=found))
    return redirect("places:floor", pk=found.floor_id)


def _floor(request: Request, found: Floor, **forms: Any) -> HttpResponse:
    context = {
        "floor": found,
        "spaces": found.spaces.annotate(count=Count("doors")).order_by("number"),
        "doors": found.doors.order_by("number"),
        "change_form": FloorForm(initial={"label": found.label, "level": found.level}, auto_id="floor_%s"),
        "space_form": SpaceForm(auto_id="space_%s"),
    }
    return render(request, "places/floor.html", context | forms, status=UNPROCESSABLE if forms else 200)


def _space(request: Request, found: Space, **forms: Any) -> HttpResponse:
    context = {
        "space": found,
        "doors": found.doors.order_by("number"),
        "change_form": SpaceForm(initial={"number": found.number, "name": found.name}),
    }
    return render(request, "places/space.html", context | forms, status=UNPROCESSABLE if forms else 200)
