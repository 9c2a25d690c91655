"""The pins that an order needs, against what is in the bins."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request, partial
from keyctl.orders import access
from keyctl.orders.shortage import shortage_of


@require_GET
def needed(request: Request, pk: UUID) -> HttpResponse:
    order = access.workable_order(request.user, pk)
    facts = {"order": order, "shortage": shortage_of(request.user, order)}
    return render(request, partial(request, "orders/pins.html", "needs"), facts)
