"""The buttons of an order that act at once."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from keyctl.accounts.http import Request
from keyctl.orders import access, services


@require_POST
def pin(request: Request, pk: UUID) -> HttpResponse:
    line = services.pin_line(actor=request.user, line=access.workable_line(request.user, pk))
    messages.success(
        request,
        _("Core {core} is pinned in the records. Build it by the pinning sheet.").format(core=line.core),
    )
    return redirect("orders:detail", line.order_id)


@require_POST
def cancel(request: Request, pk: UUID) -> HttpResponse:
    order = services.cancel_order(actor=request.user, order=access.workable_order(request.user, pk))
    messages.success(request, _("{order} is cancelled. What was done before stays done.").format(order=order))
    return redirect("orders:detail", order.pk)


@require_POST
def pin_all(request: Request, pk: UUID) -> HttpResponse:
    job = services.start_pin_all(actor=request.user, order=access.workable_order(request.user, pk))
    return redirect("jobs:detail", job.pk)


@require_POST
def decoded(request: Request, pk: UUID) -> HttpResponse:
    line = services.finish_decoded(actor=request.user, line=access.workable_line(request.user, pk))
    messages.success(request, _("The pins of core {core} are known.").format(core=line.core))
    return redirect("orders:detail", line.order_id)
