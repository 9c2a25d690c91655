"""The guided swap of one core: at the door, then exchange and checks; each step a page of its own."""

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request, partial
from keyctl.cores.models import Core
from keyctl.lib.http import UNPROCESSABLE
from keyctl.orders import access, selectors, services
from keyctl.orders.forms import Checks, ChooseCore
from keyctl.orders.models import OrderLine
from keyctl.orders.selectors import Swap


@require_http_methods(["GET", "POST"])
def swap(request: Request, pk: UUID) -> HttpResponse:
    line = access.workable_line(request.user, pk)
    if line.housing is None:
        return redirect("orders:detail", line.order_id)
    answer = _post if request.method == "POST" else _get
    return answer(request, selectors.swap_of(line))


def _get(request: Request, seen: Swap) -> HttpResponse:
    if seen.line.keeps_shut and (seen.line.lifted_at or not seen.line.is_open):
        return redirect("orders:check", seen.line.pk)
    if not seen.line.is_open:
        return _show(request, seen, "result", next_line=selectors.next_line(seen.line))
    if request.GET.get("step") in {"exchange", "checks"} and seen.core_in is not None:
        form = Checks(initial=_facts(seen.core_in, seen.core_now))
        return _show(request, seen, "exchange", form=form)
    return _at_the_door(request, seen, _choose_form(request, seen))


def _post(request: Request, seen: Swap) -> HttpResponse:
    return _finish(request, seen) if request.GET.get("step") == "checks" else _choose(request, seen)


def _choose(request: Request, seen: Swap) -> HttpResponse:
    form = _choose_form(request, seen)
    if form.attempt(services.choose_core, actor=request.user, line=seen.line):
        return redirect(f"{reverse('orders:swap', args=[seen.line.pk])}?step=exchange")
    return _at_the_door(request, seen, form)


def _finish(request: Request, seen: Swap) -> HttpResponse:
    form = Checks(request.POST)
    if line := form.attempt(services.complete_swap, actor=request.user, line=seen.line):
        return _after_lock_out(line) if line.keeps_shut else redirect("orders:swap", line.pk)
    return _show(request, seen, "exchange", form=form)


def _after_lock_out(line: OrderLine) -> HttpResponse:
    """A door that was shut is left so; one that is open again is checked at once."""
    if line.is_shut:
        return redirect("orders:detail", line.order_id)
    return redirect("orders:check", line.pk)


def _choose_form(request: Request, seen: Swap) -> ChooseCore:
    choices = selectors.cores_to_put_in(seen.line, request.user)
    data = request.POST if request.method == "POST" else None
    return ChooseCore(data, line=seen.line, choices=choices)


def _at_the_door(request: Request, seen: Swap, form: ChooseCore) -> HttpResponse:
    text = request.GET.get("q", "")
    found = selectors.matching_cores(form.choices, text)
    # The core that was made for this door stands first.
    made = seen.line.meant if seen.core_in is None else None
    first = list(form.choices.filter(pk=made.pk)) if made else []
    others = found.exclude(pk__in=[core.pk for core in (seen.core_in, *first) if core])
    shown = first + list(others[: selectors.SHOWN_AT_ONCE + 1])
    return _show(
        request,
        seen,
        "door",
        form=form,
        text=text,
        found=shown[: selectors.SHOWN_AT_ONCE],
        has_more=len(shown) > selectors.SHOWN_AT_ONCE,
    )


def _facts(core_in: Core, core_now: Core | None) -> dict[str, Any]:
    """What the page shows, so that a change behind its back is noticed."""
    return {
        "core_in_id": core_in.pk,
        "core_in_version": core_in.version,
        "core_out_id": core_now.pk if core_now else None,
        "put_at": "bench",
    }


def _show(request: Request, seen: Swap, step: str, **more: Any) -> HttpResponse:
    context = {"swap": seen, "line": seen.line, "order": seen.line.order, "step": step, **more}
    wrong = "form" in more and more["form"].errors
    status = UNPROCESSABLE if wrong else 200
    return render(request, partial(request, "orders/swap.html", "guide"), context, status=status)
