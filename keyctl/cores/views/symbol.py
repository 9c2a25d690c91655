from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.cores.listing import cores_keyed_to, doors_withdrawn_by, opened_doors
from keyctl.places.selectors import visible_history
from keyctl.systems.access import designs_for, readable_symbol
from keyctl.systems.selectors import ancestors

DOORS_ON_A_PAGE = 25
EVENTS_SHOWN = 20
CORES_SHOWN = 12


@require_GET
def symbol(request: Request, pk: UUID) -> HttpResponse:
    """One key: its place in the system, and what it does to the doors by the pins. Never its bitting."""
    symbol = readable_symbol(request.user, pk)
    find = doors_withdrawn_by if symbol.is_control else opened_doors
    cores = cores_keyed_to(request.user, symbol)
    context = {
        "symbol": symbol,
        "above": ancestors(symbol)[::-1],
        "can_extend": symbol.is_master and designs_for(request.user, symbol.system),
        "below": symbol.children.count(),
        "page": Paginator(find(request.user, symbol), DOORS_ON_A_PAGE).get_page(request.GET.get("page")),
        "cores": cores[:CORES_SHOWN],
        "core_count": cores.count(),
        "events": visible_history(request.user, symbol)[:EVENTS_SHOWN],
    }
    return render(request, "cores/symbol.html", context)
