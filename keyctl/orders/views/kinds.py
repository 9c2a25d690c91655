"""Opening orders of the kinds whose lines are chosen from a list: inspections, decoding, doors kept shut."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.orders import access, selectors, services
from keyctl.orders.forms import NewArea, NewDecodeOrder, NewInspectOrder, NewLockOut, NewRecoverOrder
from keyctl.orders.views.cutting import system_in_use
from keyctl.orders.views.opening import choices_of, chosen_site, is_sent, open_page, opened, read_uuid, typed


@require_http_methods(["GET", "POST"])
def new_inspect(request: Request) -> HttpResponse:
    site = chosen_site(request)
    choices = selectors.doors_to_inspect(site)
    form = NewInspectOrder(_sent(request), initial=typed(request), choices=choices)
    if order := opened(request, form, services.open_inspect_order, site):
        return redirect("orders:detail", order.pk)
    found = selectors.matching_doors(choices, request.POST.get("q", ""))
    context = choices_of(request, choices, found, _chosen(request, "doors"))
    return open_page(request, "orders/new_inspect.html", {"form": form, "site": site, **context})


@require_http_methods(["GET", "POST"])
def new_decode(request: Request) -> HttpResponse:
    site = chosen_site(request)
    choices = selectors.cores_to_decode(site)
    form = NewDecodeOrder(_sent(request), initial=typed(request), choices=choices)
    if order := opened(request, form, services.open_decode_order, site):
        return redirect("orders:detail", order.pk)
    found = selectors.matching_cores(choices, request.POST.get("q", ""))
    context = choices_of(request, choices, found, _chosen(request, "cores"))
    return open_page(request, "orders/new_decode.html", {"form": form, "site": site, **context})


@require_http_methods(["GET", "POST"])
def new_lock_out(request: Request) -> HttpResponse:
    site = chosen_site(request)
    choices = selectors.housings_to_shut(site)
    said = {name: request.POST.get(name, "") for name in ("asked_by", "until")}
    form = NewLockOut(_sent(request), initial=typed(request) | said, choices=choices)
    if order := opened(request, form, services.open_lock_out, site):
        return redirect("orders:detail", order.pk)
    found = selectors.matching_housings(choices, request.POST.get("q", ""))
    context = choices_of(request, choices, found, _chosen(request, "housings"))
    return open_page(request, "orders/new_lock_out.html", {"form": form, "site": site, **context})


@require_http_methods(["GET", "POST"])
def new_recover(request: Request) -> HttpResponse:
    site = chosen_site(request)
    form = NewRecoverOrder(_sent(request), initial=typed(request), site=site)
    if order := opened(request, form, services.open_recover_order, site):
        return redirect("orders:detail", order.pk)
    context = {"form": form, "site": site, "sites": access.workable_sites(request.user)}
    status = UNPROCESSABLE if form.errors else 200
    return render(request, "orders/new_recover.html", context, status=status)


@require_http_methods(["GET", "POST"])
def new_area(request: Request) -> HttpResponse:
    """A look first: which doors the area has, and whether the free cores suffice."""
    site = chosen_site(request)
    system = system_in_use(request.GET, site)
    form = NewArea(request.POST or None, initial=typed(request), site=site, system=system)
    context: dict[str, Any] = {"form": form, "site": site, "system": system}
    if is_sent(request):
        if order := form.attempt(services.open_area_order, actor=request.user, site=site):
            return redirect("orders:detail", order.pk)
    elif request.method == "POST" and form.is_valid():
        context |= {"doors": form.cleaned_data["housings"]}
    if system:
        context["free"] = selectors.cores_to_rekey(site, system, request.user).count()
    context |= {"systems": site.key_systems.all(), "sites": access.workable_sites(request.user)}
    return render(request, "orders/new_area.html", context, status=UNPROCESSABLE if form.errors else 200)


def _sent(request: Request) -> Any:
    return request.POST if is_sent(request) else None


def _chosen(request: Request, name: str) -> list[UUID]:
    """What is ticked, or what a link to this page named."""
    named = request.POST if request.method == "POST" else request.GET
    return [read_uuid(text) for text in named.getlist(name)]
