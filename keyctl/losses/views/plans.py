"""Plans side by side, the choice, the work that came of it, and the rates that plans are counted by."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.cores.services import empty_cores
from keyctl.lib.forms import VersionForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.losses import access, services
from keyctl.losses.forms import RatesForm
from keyctl.losses.models import LossCase
from keyctl.losses.planning import showing
from keyctl.losses.planning.costing import rates_of
from keyctl.losses.services.planning import PLANNERS
from keyctl.places.models import Site
from keyctl.places.roles import Role


@require_GET
def plans(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_case(request.user, pk))


@require_POST
def make(request: Request, pk: UUID) -> HttpResponse:
    case = access.workable_case(request.user, pk)
    job = services.make_plans(actor=request.user, case=case)
    return redirect("jobs:detail", job.pk)


@require_POST
def choose(request: Request, pk: UUID) -> HttpResponse:
    plan = access.choosable_plan(request.user, pk)
    case = plan.case
    form = VersionForm(request.POST, seen=case)
    job = form.attempt(services.choose_plan, actor=request.user, case=case, plan=plan)
    if job is not None:
        return redirect("jobs:detail", job.pk)
    if not form.errors:
        messages.success(request, _("The plan is chosen. Its keys are made and its orders are open."))
        return redirect("losses:plans", case.pk)
    return _page(request, access.readable_case(request.user, case.pk), form=form)


@require_POST
def empty(request: Request, pk: UUID) -> HttpResponse:
    """The pins of cores that came out of their doors are thrown back into the bins."""
    case = access.workable_case(request.user, pk)
    sites = Site.objects.for_roles(request.user, Role.LOCKSMITH)
    loose = showing.loose_at(request.user, case, sites)
    for site in sites:
        here = [core for core in loose if core.site_id == site.pk]
        if here:
            empty_cores(actor=request.user, site=site, cores=here)
    messages.success(
        request,
        _("Emptied in the records: {loose}. Take the pins out of these cores now.").format(loose=len(loose)),
    )
    return redirect("losses:plans", case.pk)


@require_http_methods(["GET", "POST"])
def rates(request: Request, pk: UUID) -> HttpResponse:
    site = access.rated_site(request.user, pk)
    form = RatesForm(request.POST or None, seen=rates_of(site))
    if request.method == "POST" and (_set := form.attempt(services.set_rates, actor=request.user, site=site)):
        messages.success(
            request,
            _("The work rates of {site} are set. Plans are counted by them from now on.").format(site=site),
        )
        return redirect("losses:rates", site.pk)
    facts = {"site": site, "form": form, "rates": rates_of(site)}
    return render(request, "losses/rates.html", facts, status=UNPROCESSABLE if form.errors else 200)


def _page(request: Request, case: LossCase, **more: Any) -> HttpResponse:
    actor, shown = request.user, showing.shown_plans(request.user, case)
    chosen = next((each for each in shown if each.plan.chosen_at), None)
    is_open = case.state == LossCase.State.OPEN
    sites = Site.objects.for_roles(actor, Role.LOCKSMITH)
    facts = {
        "case": case,
        "plans": shown,
        "chosen": chosen,
        "is_stale": is_open and showing.is_stale(case, shown),
        "job": showing.running_plans(case),
        "rates": showing.rates_shown(case),
        "is_open": is_open,
        "decides": is_open and access.has_role_in(actor, case, *access.DECIDERS),
        "makes": is_open and access.has_role_in(actor, case, *PLANNERS),
        "proves": access.has_role_in(actor, case, *access.PROVERS),
        "sets_rates": access.has_role_in(actor, case, *access.RATERS),
        "progress": showing.progress_of(case) if chosen else None,
        "orders": case.case_orders.select_related("order") if chosen else [],
        "to_empty": len(showing.loose_at(actor, case, sites)) if chosen else 0,
        **more,
    }
    form = more.get("form")
    status = UNPROCESSABLE if form is not None and form.errors else 200
    return render(request, "losses/plans.html", facts, status=status)
