from uuid import UUID

from django.core.paginator import Page, Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl import engine
from keyctl.accounts.http import Request, partial
from keyctl.places.access import visible_sites
from keyctl.places.selectors import estate_sites, visible_history
from keyctl.systems.access import readable_symbol, readable_system
from keyctl.systems.models import KeySymbol
from keyctl.systems.selectors import ancestors, control_of
from keyctl.systems.tree import branch, listed_systems, named_like, roots

KEYS_ON_A_PAGE = 100
MOST_FOUND = 50
EVENTS_SHOWN = 20


@require_GET
def system_list(request: Request) -> HttpResponse:
    estate_sites(request.user)
    return render(request, "systems/list.html", {"systems": listed_systems(request.user)})


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    system = readable_system(request.user, pk)
    text = request.GET.get("q", "").strip()
    tops = list(roots(request.user, system)[: KEYS_ON_A_PAGE + 1])
    context = {
        "system": system,
        "format": engine.load_format(system.format_id),
        "sites": visible_sites(request.user).filter(key_systems=system),
        "text": text,
        "found": named_like(request.user, system, text)[:MOST_FOUND] if text else None,
        "most_found": MOST_FOUND,
        "roots": tops,
        "first": _first_branch(request, tops),
        "control": control_of(system),
        "events": visible_history(request.user, system)[:EVENTS_SHOWN],
    }
    return render(request, partial(request, "systems/detail.html", "tree"), context)


def _first_branch(request: Request, tops: list[KeySymbol]) -> Page[KeySymbol] | None:
    """With a single top the tree opens at once."""
    if len(tops) != 1:
        return None
    return Paginator(branch(request.user, tops[0]), KEYS_ON_A_PAGE).get_page(1)


@require_GET
def children(request: Request, pk: UUID) -> HttpResponse:
    """The keys directly below one: a branch of the tree, or a page of its own without scripts."""
    symbol = readable_symbol(request.user, pk)
    keys = Paginator(branch(request.user, symbol), KEYS_ON_A_PAGE)
    context = {
        "symbol": symbol,
        "above": ancestors(symbol)[::-1],
        "page": keys.get_page(request.GET.get("page")),
    }
    return render(request, partial(request, "systems/children.html", "branch"), context)
