"""At a door: its checklist, that it could not be reached, and the work that follows."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.orders import access, selectors, services
from keyctl.orders.checklists import points_of
from keyctl.orders.forms import Checklist, Unreached
from keyctl.orders.models import Check, OrderLine, WorkOrder


@require_http_methods(["GET", "POST"])
def check(request: Request, pk: UUID) -> HttpResponse:
    line = access.workable_line(request.user, pk)
    points = points_of(line)
    if not points:
        raise Http404
    form = Checklist(request.POST if request.method == "POST" else None, points=points)
    checked = form.attempt(services.check_line, actor=request.user, line=line) if form.is_bound else None
    if checked is None:
        return _page(request, line, form, Unreached(auto_id="unreached_%s"))
    if checked.is_open:
        messages.warning(request, _("Kept. Something is bad, so the door is not given back yet."))
        return redirect("orders:check", line.pk)
    messages.success(request, _("{door_at} is checked.").format(door_at=checked.door_at))
    return redirect(_next(checked))


@require_POST
def unreached(request: Request, pk: UUID) -> HttpResponse:
    line = access.workable_line(request.user, pk)
    form = Unreached(request.POST, auto_id="unreached_%s")
    if form.attempt(services.report_unreached, actor=request.user, line=line) is None:
        return _not_kept(request, line, form)
    messages.success(
        request, _("Kept: {door_at} could not be reached. It stays open.").format(door_at=line.door_at)
    )
    return redirect("orders:detail", line.order_id)


def _not_kept(request: Request, line: OrderLine, form: Unreached) -> HttpResponse:
    """Back on the page that it was said on: the checklist, or the guided swap."""
    if points := points_of(line):
        return _page(request, line, Checklist(points=points), form)
    for words in (error for errors in form.errors.values() for error in errors):
        messages.error(request, str(words))
    return redirect("orders:swap", line.pk)


@require_POST
def follow_up(request: Request, pk: UUID) -> HttpResponse:
    line = access.workable_line(request.user, pk)
    order = services.open_follow_up(actor=request.user, line=line, kind=request.POST.get("kind", ""))
    messages.success(request, _("{order} follows from what was found.").format(order=order))
    return redirect("orders:detail", order.pk)


def _next(line: OrderLine) -> str:
    """The next open door of an inspection, or back to the order."""
    following = None if line.keeps_shut else selectors.next_line(line)
    name, pk = ("orders:check", following.pk) if following else ("orders:detail", line.order_id)
    return reverse(name, args=[pk])


def _page(request: Request, line: OrderLine, form: Checklist, away: Unreached) -> HttpResponse:
    checks = list(line.checks.all())
    bad = [check for check in checks if check.found == Check.Found.BAD]
    remedies = {point.key: point.remedy for point in points_of(line)}
    context = {
        "line": line,
        "order": line.order,
        "door": line.door_at,
        "form": form,
        "away": away,
        "checks": checks,
        "has_bad": bool(bad),
        "wants_swap": any(remedies.get(check.key) == WorkOrder.Kind.SWAP for check in bad),
    }
    wrong = form.errors or away.errors
    return render(request, "orders/check.html", context, status=UNPROCESSABLE if wrong else 200)
