"""What is written of a door, and of its housings; for locksmiths and administrators."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places import access, services
from keyctl.places.changing_doors import DoorChangeForm
from keyctl.places.models import Door, Housing
from keyctl.places.writing import HousingForm, RemoveForm


@require_http_methods(["GET", "POST"])
def door(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_door(request.user, pk)
    form = DoorChangeForm(request.POST or None, door=found)
    if (
        request.method == "POST"
        and form.attempt(services.change_door, actor=request.user, door=found) is not None
    ):
        messages.success(request, _("The door is changed."))
        return redirect("cores:door", pk=pk)
    return _door(request, found, **({"change_form": form} if form.is_bound else {}))


@require_POST
def remove_door(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_door(request.user, pk)
    form = RemoveForm(request.POST)
    form.attempt(services.remove_door, actor=request.user, door=found)
    if form.errors:
        return _door(request, found, remove_form=form)
    messages.success(request, _("Door {found} is removed.").format(found=found))
    return redirect(f"{reverse('cores:estate')}?building={found.building.pk}")


@require_POST
def new_housing(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_door(request.user, pk)
    form = HousingForm(request.POST)
    made = form.attempt(services.add_housing, actor=request.user, door=found)
    if made is None:
        return _door(request, found, housing_form=form)
    messages.success(request, _("The housing {made} is there.").format(made=made))
    return redirect("places:door", pk=pk)


@require_http_methods(["GET", "POST"])
def housing(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_housing(request.user, pk)
    form = HousingForm(request.POST or None, initial=_facts(found))
    if (
        request.method == "POST"
        and form.attempt(services.change_housing, actor=request.user, housing=found) is not None
    ):
        messages.success(request, _("The housing is changed."))
        return redirect("places:door", pk=found.door_id)
    return _housing(request, found, **({"change_form": form} if form.is_bound else {}))


@require_POST
def remove_housing(request: Request, pk: UUID) -> HttpResponse:
    found = access.kept_housing(request.user, pk)
    form = RemoveForm(request.POST)
    form.attempt(services.remove_housing, actor=request.user, housing=found)
    if form.errors:
        return _housing(request, found, remove_form=form)
    messages.success(request, _("The housing {found} is removed.").format(found=found))
    return redirect("places:door", pk=found.door_id)


def _door(request: Request, found: Door, **forms: Any) -> HttpResponse:
    context = {
        "door": found,
        "housings": found.housings.order_by("kind", "label"),
        "change_form": DoorChangeForm(door=found, auto_id="door_%s"),
        "housing_form": HousingForm(auto_id="housing_%s"),
    }
    return render(request, "places/door.html", context | forms, status=UNPROCESSABLE if forms else 200)


def _housing(request: Request, found: Housing, **forms: Any) -> HttpResponse:
    context = {"housing": found, "change_form": HousingForm(initial=_facts(found))}
    return render(request, "places/housing.html", context | forms, status=UNPROCESSABLE if forms else 200)


def _facts(housing: Housing) -> dict[str, str]:
    return {"kind": housing.kind, "construction": housing.construction, "label": housing.label}
