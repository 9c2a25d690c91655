"""What is said of an order as a whole; each act is a form on the order's page."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from keyctl.accounts.http import Request
from keyctl.lib.forms import ServiceForm
from keyctl.orders import access, selectors, services
from keyctl.orders.forms import AllowWaysOut, Assign, ChangeUntil, LetWait
from keyctl.orders.models import WorkOrder
from keyctl.orders.views.reading import show_order

# Under which name each form stands on the order's page.
NAMES: dict[type[ServiceForm], str] = {
    LetWait: "wait",
    Assign: "assign",
    AllowWaysOut: "allow",
    ChangeUntil: "until",
}


@require_POST
def start(request: Request, pk: UUID) -> HttpResponse:
    order = services.start_order(actor=request.user, order=access.readable_order(request.user, pk))
    messages.success(request, _("{order} is under way.").format(order=order))
    return redirect("orders:detail", order.pk)


@require_POST
def go_on(request: Request, pk: UUID) -> HttpResponse:
    order = services.go_on(actor=request.user, order=access.readable_order(request.user, pk))
    messages.success(request, _("{order} goes on.").format(order=order))
    return redirect("orders:detail", order.pk)


@require_POST
def wait(request: Request, pk: UUID) -> HttpResponse:
    order = access.readable_order(request.user, pk)
    return _act(request, order, LetWait(request.POST), services.let_wait, _("The order waits."))


@require_POST
def assign(request: Request, pk: UUID) -> HttpResponse:
    order = access.readable_order(request.user, pk)
    form = Assign(request.POST, smiths=selectors.smiths_of(order.site))
    return _act(request, order, form, services.assign_order, _("Kept."))


@require_POST
def take(request: Request, pk: UUID) -> HttpResponse:
    """Whoever presses it does it."""
    order = access.workable_order(request.user, pk)
    services.assign_order(actor=request.user, order=order, to=request.user)
    messages.success(request, _("{order} is yours.").format(order=order))
    return redirect("orders:detail", order.pk)


@require_POST
def allow(request: Request, pk: UUID) -> HttpResponse:
    order = access.readable_order(request.user, pk)
    done = _("Your word stands in the order: its ways out and fire-rated doors may be shut.")
    return _act(request, order, AllowWaysOut(request.POST), services.allow_ways_out, done)


@require_POST
def until(request: Request, pk: UUID) -> HttpResponse:
    order = access.workable_order(request.user, pk)
    return _act(request, order, ChangeUntil(request.POST), services.change_until, _("The day is kept."))


def _act(
    request: Request, order: WorkOrder, form: ServiceForm, service: Callable[..., Any], done: str
) -> HttpResponse:
    """Back on the order's page: with what was done, or with the form and why not."""
    if form.attempt(service, actor=request.user, order=order) is None:
        return show_order(request, order, forms={NAMES[type(form)]: form})
    messages.success(request, done)
    return redirect("orders:detail", order.pk)
