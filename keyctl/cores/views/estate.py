from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET
from django_htmx.http import HttpResponseClientRedirect

from keyctl.accounts.http import Request, partial
from keyctl.cores.listing import core_tagged, figures_of
from keyctl.cores.lists import CORES, DOORS
from keyctl.cores.models import Core
from keyctl.listing.shown import shown_list
from keyctl.places.forms import EstateFilter
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.places.selectors import buildings_of, estate_sites

DOORS_ON_A_PAGE = 25
CORES_ON_A_PAGE = 25


@require_GET
def estate(request: Request) -> HttpResponse:
    """All doors one may see, narrowed by words and places. A whole core tag leads to that core."""
    sites = estate_sites(request.user)
    wanted = EstateFilter(request.user, request.GET)
    if core := core_tagged(request.user, wanted.text):
        return _to_core(request, core)
    listed = shown_list(request, DOORS)
    if listed.leads_to:
        return redirect(listed.leads_to)
    site, building = wanted.chosen_site, wanted.chosen_building
    shown = site or (sites[0] if len(sites) == 1 else None)
    doors = listed.ordered(DOORS.rows(request.user, listed.said))
    context = {
        "may_register": Site.objects.for_roles(request.user, Role.LOCKSMITH).exists(),
        "sites": sites,
        "site": site,
        "building": building,
        "buildings": buildings_of(request.user, shown) if shown else (),
        "text": wanted.text,
        "figures": figures_of(request.user, site),
        "page": Paginator(doors, DOORS_ON_A_PAGE).get_page(request.GET.get("page")),
        "shown": listed,
        "query": listed.query,
    }
    return render(request, partial(request, "cores/estate.html", "doors"), context)


@require_GET
def core_list(request: Request) -> HttpResponse:
    """All cores one may see, wherever they are. A whole tag leads to its core."""
    sites = estate_sites(request.user)
    wanted = EstateFilter(request.user, request.GET)
    if core := core_tagged(request.user, request.GET.get("core", "")):
        return _to_core(request, core)
    listed = shown_list(request, CORES)
    if listed.leads_to:
        return redirect(listed.leads_to)
    cores = listed.ordered(CORES.rows(request.user, listed.said))
    context = {
        "may_register": Site.objects.for_roles(request.user, Role.LOCKSMITH).exists(),
        "sites": sites,
        "site": wanted.chosen_site,
        "text": listed.said.get("core", ""),
        "places": Core.Place.choices,
        "place": listed.said.get("place", ""),
        "page": Paginator(cores, CORES_ON_A_PAGE).get_page(request.GET.get("page")),
        "shown": listed,
        "query": listed.query,
    }
    return render(request, partial(request, "cores/list.html", "cores"), context)


def _to_core(request: Request, core: Core) -> HttpResponse:
    answer = redirect("cores:detail", pk=core.pk)
    return HttpResponseClientRedirect(answer.url) if request.htmx else answer
