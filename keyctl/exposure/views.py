from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.cores.models import Core
from keyctl.exposure.access import (
    MAY_LOOK_CLOSER,
    may_look_closer,
    overseen_core,
    overseen_site,
    overseen_sites,
    overseen_system,
)
from keyctl.exposure.forms import CloserLookForm, CutsForm
from keyctl.exposure.heat import Line, draw_heat
from keyctl.exposure.pages import chosen, core_facts, heat_of_places, page_query, rows_of
from keyctl.exposure.selectors import (
    Overseen,
    against_plan,
    cells,
    counts_of_keyways,
    counts_of_site,
    counts_of_system,
    figures_of,
    running_job,
    site_sums,
    worst_first,
)
from keyctl.exposure.services import assess, look_closer
from keyctl.exposure.trying import Found, try_cuts
from keyctl.lib.http import UNPROCESSABLE
from keyctl.listing.paging import LeanPaginator
from keyctl.places.access import require_role, require_some
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem

CORES_ON_A_PAGE = 15
AGAINST_SHOWN = 12
TAKEN_SHOWN = 200


@require_GET
def estate(request: Request) -> HttpResponse:
    """The sites one oversees side by side."""
    sites = require_some(overseen_sites(request.user))
    systems = KeySystem.objects.at_sites(sites)
    overseen = Overseen(request.user)
    down = [Line(each.pk, each.code, f"site={each.pk}") for each in sites]
    across = [Line(each.pk, each.code, f"system={each.pk}") for each in systems]
    context = {
        "sites": site_sums(request.user),
        "counts": counts_of_keyways(request.user),
        "heat": draw_heat(
            cells(overseen.cores(), across="system", down="site"),
            down,
            across,
            title=_("Exposure by site and key system"),
        ),
        **_listed(request, overseen),
    }
    return render(request, "exposure/estate.html", context)


@require_GET
def site(request: Request, pk: UUID) -> HttpResponse:
    site = overseen_site(request.user, pk)
    overseen = Overseen(request.user, site=site)
    systems = site.key_systems.all()
    across = [Line(each.pk, each.code, f"system={each.pk}") for each in systems]
    context = {
        "site": site,
        "counts": counts_of_site(site),
        "may_assess": may_look_closer(request.user, site),
        "job": running_job(site),
        "systems": systems,
        "heat": heat_of_places(
            overseen.cores(),
            across,
            title=_("Exposure at {site} by building and key system").format(site=site),
        ),
        **_listed(request, overseen),
    }
    return render(request, "exposure/site.html", context)


@require_GET
def system(request: Request, pk: UUID) -> HttpResponse:
    system = overseen_system(request.user, pk)
    overseen = Overseen(request.user, system=system)
    context = {
        "system": system,
        "counts": counts_of_system(system),
        "heat": heat_of_places(
            overseen.cores(),
            [Line(system.pk, system.code)],
            title=_("Exposure of {system} by building").format(system=system),
        ),
        **_listed(request, overseen),
    }
    return render(request, "exposure/system.html", context)


@require_GET
def core(request: Request, pk: UUID) -> HttpResponse:
    core = overseen_core(request.user, pk)
    return render(request, "exposure/core.html", _core_page(request, core, CloserLookForm()))


@never_cache
@require_POST
def near(request: Request, pk: UUID) -> HttpResponse:
    """The keys that nearly turn one core, for who may look closer and was permitted to."""
    core = overseen_core(request.user, pk)
    require_role(request.user, core.site, *MAY_LOOK_CLOSER)
    form = CloserLookForm(request.POST)
    found = form.attempt(look_closer, actor=request.user, core=core, sign_in=fresh_sign_in(request))
    context = _core_page(request, core, form) | {"near": found}
    template = "exposure/_near.html" if request.htmx else "exposure/core.html"
    return render(request, template, context, status=UNPROCESSABLE if found is None else 200)


@require_POST
def assess_site(request: Request, pk: UUID) -> HttpResponse:
    site = overseen_site(request.user, pk)
    job = assess(actor=request.user, site=site)
    return redirect("jobs:detail", pk=job.pk)


@never_cache
@require_http_methods(["GET", "POST"])
def cuts(request: Request, pk: UUID) -> HttpResponse:
    """Which cores of a site a key with given cuts turns. The cuts are not shown again."""
    site = overseen_site(request.user, pk)
    require_role(request.user, site, *MAY_LOOK_CLOSER)
    form = CutsForm(request.POST or None, site=site, initial=request.GET.dict())
    found = _tried(request, form, site) if request.method == "POST" else None
    refused = request.method == "POST" and found is None
    context = {
        "site": site,
        "form": form,
        "found": found,
        "taken": found.taken[:TAKEN_SHOWN] if found else [],
        "more": max(len(found.taken) - TAKEN_SHOWN, 0) if found else 0,
    }
    return render(request, "exposure/cuts.html", context, status=UNPROCESSABLE if refused else 200)


def _tried(request: Request, form: CutsForm, site: Site) -> Found | None:
    return form.attempt(try_cuts, actor=request.user, site=site, sign_in=fresh_sign_in(request))


def _core_page(request: Request, core: Core, form: CloserLookForm) -> dict[str, Any]:
    return core_facts(core) | {
        "core": core,
        "form": form,
        "may_look": may_look_closer(request.user, core.site),
    }


def _listed(request: Request, overseen: Overseen) -> dict[str, Any]:
    """Their figures, and the worst first, narrowed to the cell that was chosen."""
    narrowed, words = chosen(request.GET, overseen.cores())
    figures = figures_of(overseen)
    page = LeanPaginator(worst_first(narrowed), CORES_ON_A_PAGE).get_page(request.GET.get("page"))
    return {
        "figures": figures,
        "page": page,
        "rows": rows_of(page),
        "narrowed": words,
        "query": page_query(request.GET),
        # All turns are looked through once for the number; for the list only where there are some.
        "against": against_plan(overseen)[:AGAINST_SHOWN] if figures.against else [],
        "against_more": max(figures.against - AGAINST_SHOWN, 0),
    }
