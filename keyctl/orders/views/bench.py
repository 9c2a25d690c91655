"""The cores of a pin order at the bench, one after another: find it by its tag, build it, try it.

Pins are shown only in answer to a POST that history heard of first; no cache and no history keeps the answer.
"""

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.cores.drawing import draw
from keyctl.cores.services import reveal_pinning
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.orders import access, selectors, services
from keyctl.orders.forms import FindLine, LetGo, TryOutForm
from keyctl.orders.models import OrderLine, TryOut, WorkOrder
from keyctl.orders.sequence import bench_sequence


@never_cache
@require_http_methods(["GET", "POST"])
def bench(request: Request, pk: UUID) -> HttpResponse:
    """The cores in the order they are built; the tag that is typed leads to its core."""
    order = _pin_order(request, pk)
    lines = bench_sequence(order)
    form = FindLine(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        core = selectors.core_by_tag(order.site, form.cleaned_data["tag"])
        if line := next((line for line in lines if core and line.core_id == core.pk), None):
            return redirect("orders:bench-core", line.pk)
        form.add_error(
            "tag",
            _("No core of {order} has this tag. Read it again, or put the core back.").format(order=order),
        )
    context = {"order": order, "lines": lines, "form": form, "first": _first(lines)}
    status = UNPROCESSABLE if form.errors else 200
    return render(request, "orders/bench.html", context, status=status)


@never_cache
@require_safe
def core(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, _pin_line(request, pk))


@never_cache
@require_POST
def pin(request: Request, pk: UUID) -> HttpResponse:
    """Pin it in the records, and stay with it."""
    line = services.pin_line(actor=request.user, line=_pin_line(request, pk))
    messages.success(
        request, _("Core {core} is pinned in the records. Build it now, then try it.").format(core=line.core)
    )
    return redirect("orders:bench-core", line.pk)


@never_cache
@require_POST
def stacks(request: Request, pk: UUID) -> HttpResponse:
    """The pins of this core, position by position, in the order in which they are loaded."""
    line = _pin_line(request, pk)
    if line.core is None or line.is_open:
        raise Refused(_("The core of {line} is not pinned yet. Pin it first.").format(line=line))
    pinned = reveal_pinning(actor=request.user, core=line.core, sign_in=fresh_sign_in(request))
    drawing = draw(pinned, name=f"b{uuid4().hex[:8]}", title=_("Pins of core {core}").format(core=line.core))
    return _page(request, line, drawing=drawing)


@never_cache
@require_POST
def try_out(request: Request, pk: UUID) -> HttpResponse:
    line = _pin_line(request, pk)
    form = TryOutForm(request.POST, due=services.keys_due(actor=request.user, line=line))
    made = form.attempt(services.record_try_out, actor=request.user, line=line)
    if made is None:
        return _page(request, line, try_form=form)
    if made.outcome == TryOut.Outcome.WRONG:
        messages.error(
            request, _("Core {core} stays on the bench: a key did something else.").format(core=line.core)
        )
        return redirect("orders:bench-core", line.pk)
    messages.success(request, _("Core {core} is tried and may leave the bench.").format(core=line.core))
    return redirect(_after(line))


@never_cache
@require_POST
def let_go(request: Request, pk: UUID) -> HttpResponse:
    line = _pin_line(request, pk)
    form = LetGo(request.POST, auto_id="let_go_%s")
    if form.attempt(services.let_go_untried, actor=request.user, line=line) is None:
        return _page(request, line, let_go_form=form)
    messages.warning(
        request, _("Core {core} may leave the bench untried; the order says why.").format(core=line.core)
    )
    return redirect(_after(line))


def _pin_order(request: Request, pk: UUID) -> WorkOrder:
    order = access.workable_order(request.user, pk)
    if order.kind != WorkOrder.Kind.PIN:
        raise Http404
    return order


def _pin_line(request: Request, pk: UUID) -> OrderLine:
    line = access.workable_line(request.user, pk)
    if line.order.kind != WorkOrder.Kind.PIN or line.core is None or line.state == OrderLine.State.CANCELLED:
        raise Http404
    return line


def _waits(line: OrderLine) -> bool:
    return line.is_open or line.trying in selectors.OWING


def _first(lines: list[OrderLine]) -> OrderLine | None:
    return next((line for line in lines if _waits(line)), None)


def _after(line: OrderLine) -> str:
    """The next core that waits, as they lie in sequence; else the list."""
    lines = bench_sequence(line.order)
    place = next((nth for nth, each in enumerate(lines) if each.pk == line.pk), 0)
    following = _first(lines[place + 1 :] + lines[:place])
    if following and following.pk != line.pk:
        return reverse("orders:bench-core", args=[following.pk])
    return reverse("orders:bench", args=[line.order_id])


def _page(request: Request, line: OrderLine, **more: Any) -> HttpResponse:
    owes = line.trying in selectors.OWING and selectors.owing_line(line.core) == line if line.core else False
    last = line.try_outs.prefetch_related("keys__symbol").select_related("by").last()
    context: dict[str, Any] = {
        "line": line,
        "order": line.order,
        "core": line.core,
        "owes": owes,
        "last": last,
        "wrong": [(key, services.look_at(key)) for key in last.keys.all() if services.look_at(key)]
        if last
        else [],
        "let_go_form": LetGo(auto_id="let_go_%s"),
    }
    if owes and "try_form" not in more:
        context["try_form"] = TryOutForm(due=services.keys_due(actor=request.user, line=line))
    context |= more
    refused = any(form.errors for form in more.values() if hasattr(form, "errors"))
    return render(request, "orders/bench_core.html", context, status=UNPROCESSABLE if refused else 200)
