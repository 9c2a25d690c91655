"""The list of work orders, and one order."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.http import urlencode
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request, partial
from keyctl.audit.selectors import history_of
from keyctl.orders import access, selectors
from keyctl.orders.forms import OrderFilter
from keyctl.orders.models import OrderLine
from keyctl.places.access import has_role
from keyctl.places.beside import links_beside
from keyctl.places.models import Site
from keyctl.places.roles import Role

ORDERS_A_PAGE = 25


@require_GET
def order_list(request: Request) -> HttpResponse:
    if not Site.objects.for_roles(request.user, *access.READERS).exists():
        raise PermissionDenied
    form = OrderFilter(request.GET)
    chosen = form.chosen()
    orders = selectors.orders_by_state(request.user, **chosen)
    context = {
        "page": Paginator(orders, ORDERS_A_PAGE).get_page(request.GET.get("page")),
        "form": form,
        "query": urlencode({name: word for name, word in chosen.items() if word}),
        "can_work": access.workable_sites(request.user).exists(),
    }
    return render(request, partial(request, "orders/list.html", "orders"), context)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    order = access.readable_order(request.user, pk)
    lines = list(selectors.lines_of(order))
    context = {
        "order": order,
        "lines": lines,
        "done": sum(line.state == OrderLine.State.DONE for line in lines),
        "can_work": has_role(request.user, order.site, Role.LOCKSMITH),
        "beside": links_beside(request.user, order),
        "events": history_of(order),
    }
    return render(request, "orders/detail.html", context)
