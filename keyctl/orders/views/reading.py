"""The list of work orders, the way past one's doors, and one order."""

from typing import Any
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request, partial
from keyctl.audit.selectors import history_of
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.listing.shown import shown_list
from keyctl.orders import access, selectors, services
from keyctl.orders.forms import AllowWaysOut, Assign, ChangeUntil, LetWait, OrderFilter
from keyctl.orders.lists import ORDERS
from keyctl.orders.models import LockOut, OrderLine, WorkOrder
from keyctl.places.access import has_role, require_some
from keyctl.places.beside import links_beside
from keyctl.places.models import Site
from keyctl.places.roles import Role

ORDERS_A_PAGE = 25
LINES_A_PAGE = 100


@require_GET
def order_list(request: Request) -> HttpResponse:
    require_some(Site.objects.for_roles(request.user, *access.READERS))
    shown = shown_list(request, ORDERS)
    if shown.leads_to:
        return redirect(shown.leads_to)
    orders = shown.ordered(ORDERS.rows(request.user, shown.said))
    context = {
        "page": Paginator(orders, ORDERS_A_PAGE).get_page(request.GET.get("page")),
        "form": OrderFilter(request.GET),
        "shown": shown,
        "query": shown.query,
        "can_work": access.workable_sites(request.user).exists(),
    }
    return render(request, partial(request, "orders/list.html", "orders"), context)


@require_GET
def route(request: Request) -> HttpResponse:
    """The open doors of all orders as somebody goes past them; one's own, or everybody's."""
    require_some(access.workable_sites(request.user))
    mine = request.GET.get("whose") != "all"
    lines = selectors.lines_at_doors(request.user, mine=mine)
    page = Paginator(lines, LINES_A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "mine": mine, "query": "" if mine else "whose=all"}
    return render(request, "orders/route.html", context)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return show_order(request, access.readable_order(request.user, pk))


def show_order(
    request: Request, order: WorkOrder, forms: dict[str, ServiceForm] | None = None
) -> HttpResponse:
    """Its page; ``forms`` holds one that was sent and refused."""
    lines = list(selectors.lines_of(order))
    parts = list(selectors.parts_of(order)) if order.is_area else []
    context: dict[str, Any] = {
        "order": order,
        "lines": lines,
        "parts": parts,
        "done": sum(thing.state == OrderLine.State.DONE for thing in (parts or lines)),
        "total": len(parts or lines),
        "to_try": sum(line.trying in selectors.OWING for line in lines),
        "lock_out": LockOut.objects.filter(order=order).select_related("word_by").first(),
        "can_work": has_role(request.user, order.site, Role.LOCKSMITH),
        "acts": [str(act) for act in services.allowed_acts(request.user, order)],
        "forms": _forms(order) | (forms or {}),
        "beside": links_beside(request.user, order),
        "events": history_of(order),
    }
    status = UNPROCESSABLE if forms else 200
    return render(request, "orders/detail.html", context, status=status)


def _forms(order: WorkOrder) -> dict[str, ServiceForm]:
    return {
        "wait": LetWait(auto_id="wait_%s"),
        "assign": Assign(
            auto_id="assign_%s",
            smiths=selectors.smiths_of(order.site),
            initial={"to": order.assigned_to_id},
        ),
        "allow": AllowWaysOut(auto_id="allow_%s"),
        "until": ChangeUntil(auto_id="until_%s"),
    }
