"""Cores for a whole system: a core each for the keys that have none, and pins for the cores that wait."""

from typing import Any
from uuid import UUID

from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.cores.access import sites_to_work_at
from keyctl.cores.forms import BulkForm, PinWaitingForm
from keyctl.cores.services import start_pinning, start_registering
from keyctl.cores.waiting import keys_without_core, waiting_cores
from keyctl.lib.http import UNPROCESSABLE
from keyctl.systems.access import readable_system
from keyctl.systems.models import KeySystem


@require_http_methods(["GET", "POST"])
def register(request: Request, pk: UUID) -> HttpResponse:
    system = readable_system(request.user, pk)
    sites = sites_to_work_at(request.user, system)
    form = BulkForm(request.POST or None, sites=sites, system=system)
    if form.is_bound:
        job = form.attempt(start_registering, actor=request.user, system=system)
        if job:
            return redirect("jobs:detail", job.pk)
    return _page(request, system, form=form, status=UNPROCESSABLE if form.is_bound else 200)


@require_POST
def pin(request: Request, pk: UUID) -> HttpResponse:
    system = readable_system(request.user, pk)
    form = PinWaitingForm(request.POST, sites=sites_to_work_at(request.user, system))
    job = form.attempt(start_pinning, actor=request.user, system=system)
    if job:
        return redirect("jobs:detail", job.pk)
    return _page(request, system, pin_form=form, status=UNPROCESSABLE)


def _page(request: Request, system: KeySystem, *, status: int, **forms: Any) -> HttpResponse:
    sites = sites_to_work_at(request.user, system)
    waiting = waiting_cores(system, sites).values("site__name").annotate(count=Count("pk"))
    context = {
        "system": system,
        "form": BulkForm(sites=sites, system=system),
        "pin_form": PinWaitingForm(sites=sites),
        "without_core": keys_without_core(system).count(),
        "waiting": list(waiting.order_by("site__name")),
        **forms,
    }
    return render(request, "cores/bulk.html", context, status=status)
