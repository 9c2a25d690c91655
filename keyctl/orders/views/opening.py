"""Opening an order: choose cores or doors from a searched list; what was chosen stays chosen."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request, partial
from keyctl.cores.models import Core
from keyctl.lib.http import UNPROCESSABLE
from keyctl.orders import access, selectors, services
from keyctl.orders.forms import NewOrder, NewPinOrder, NewSwapOrder
from keyctl.orders.models import WorkOrder
from keyctl.places.access import readable_door
from keyctl.places.models import Door, Housing, Site

Thing = Core | Housing


@require_http_methods(["GET", "POST"])
def new_pin(request: Request) -> HttpResponse:
    site = chosen_site(request)
    choices = selectors.cores_to_pin(site)
    form = NewPinOrder(request.POST if is_sent(request) else None, initial=typed(request), choices=choices)
    if order := opened(request, form, services.open_pin_order, site):
        return redirect("orders:detail", order.pk)
    found = selectors.matching_cores(choices, request.POST.get("q", ""))
    context = choices_of(request, choices, found, _ids(request, "cores"))
    return open_page(request, "orders/new_pin.html", {"form": form, "site": site, **context})


@require_http_methods(["GET", "POST"])
def new_swap(request: Request) -> HttpResponse:
    door = _door(request)
    site = access.workable_site(request.user, door.site.pk) if door else chosen_site(request)
    choices = selectors.housings_to_swap(site)
    form = NewSwapOrder(
        request.POST if is_sent(request) else None, initial=typed(request, door), choices=choices
    )
    if order := opened(request, form, services.open_swap_order, site):
        return _to_the_door(order)
    context = choices_of(request, choices, *_found_housings(request, choices, door))
    context |= {"door": door, "waiting": selectors.open_swap_at(door) if door else None}
    return open_page(request, "orders/new_swap.html", {"form": form, "site": site, **context})


def opened(
    request: Request, form: NewOrder, service: Callable[..., WorkOrder], site: Site
) -> WorkOrder | None:
    return form.attempt(service, actor=request.user, site=site) if form.is_bound else None


def _to_the_door(order: WorkOrder) -> HttpResponse:
    """An order for one door leads straight on to the swap."""
    lines = list(order.lines.all()[:2])
    return redirect("orders:swap", lines[0].pk) if len(lines) == 1 else redirect("orders:detail", order.pk)


def is_sent(request: Request) -> bool:
    """A search sends the same form, so that ticks and words stay; it does not open the order."""
    return request.method == "POST" and "find" not in request.POST and request.htmx.trigger_name != "q"


def typed(request: Request, door: Door | None = None) -> dict[str, str]:
    title = _("Swap the core of {door}").format(door=door) if door else ""
    return {"title": request.POST.get("title", title), "due_on": request.POST.get("due_on", "")}


def chosen_site(request: Request) -> Site:
    wanted = request.GET.get("site")
    if wanted:
        return access.workable_site(request.user, read_uuid(wanted))
    if site := access.workable_sites(request.user).first():
        return site
    raise PermissionDenied


def _door(request: Request) -> Door | None:
    wanted = request.GET.get("door")
    return readable_door(request.user, read_uuid(wanted)) if wanted else None


def read_uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise Http404 from None


def _ids(request: Request, name: str) -> list[UUID]:
    return [read_uuid(text) for text in request.POST.getlist(name)]


def _found_housings(
    request: Request, choices: QuerySet[Housing], door: Door | None
) -> tuple[QuerySet[Housing], list[UUID]]:
    """What the search found, and what is chosen; a door's page chooses the door's only housing."""
    if door is None:
        return selectors.matching_housings(choices, request.POST.get("q", "")), _ids(request, "housings")
    found = choices.filter(door=door)
    only = [housing.pk for housing in found] if found.count() == 1 else []
    return found, _ids(request, "housings") if request.method == "POST" else only


def choices_of(
    request: Request, choices: QuerySet[Any], found: QuerySet[Any], chosen: list[UUID]
) -> dict[str, Any]:
    """The chosen ones first, then what the search found."""
    others = list(found.exclude(pk__in=chosen)[: selectors.SHOWN_AT_ONCE + 1])
    return {
        "chosen": choices.filter(pk__in=chosen),
        "found": others[: selectors.SHOWN_AT_ONCE],
        "has_more": len(others) > selectors.SHOWN_AT_ONCE,
        "text": request.POST.get("q", ""),
        "sites": access.workable_sites(request.user),
    }


def open_page(request: Request, template: str, context: dict[str, Any]) -> HttpResponse:
    status = UNPROCESSABLE if context["form"].errors else 200
    return render(request, partial(request, template, "choices"), context, status=status)
