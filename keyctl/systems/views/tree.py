"""The list of key systems, one system with its tree, and a branch of it."""

from typing import Any
from uuid import UUID

from django.core.paginator import Page
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.http import urlencode
from django.views.decorators.http import require_GET

from keyctl import engine
from keyctl.accounts.http import Request, partial
from keyctl.places.access import visible_sites
from keyctl.places.selectors import estate_sites, visible_history
from keyctl.systems.access import design_sites, designs_for, readable_symbol, readable_system, visible_drafts
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.selectors import ancestors, control_of
from keyctl.systems.tree import SHOWN, Sieve, branch_page, listed_systems, sifted_page, tops_page

EVENTS_SHOWN = 20


@require_GET
def system_list(request: Request) -> HttpResponse:
    estate_sites(request.user)
    context = {
        "systems": listed_systems(request.user),
        "drafts": visible_drafts(request.user),
        "can_design": design_sites(request.user).exists(),
    }
    return render(request, "systems/list.html", context)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    system = readable_system(request.user, pk)
    context = {
        "system": system,
        "format": engine.load_format(system.format_id),
        "sites": visible_sites(request.user).filter(key_systems=system),
        "control": control_of(system),
        "events": visible_history(request.user, system)[:EVENTS_SHOWN],
        **_tree(request, system),
    }
    return render(request, partial(request, "systems/detail.html", "tree"), context)


def _tree(request: Request, system: KeySystem) -> dict[str, Any]:
    """Either what passes the sieve, or the top keys with the first branch open where there is only one."""
    sieve = _sieve(request.GET, system)
    number = request.GET.get("page")
    page = (
        sifted_page(request.user, system, sieve, number)
        if sieve.is_set
        else tops_page(request.user, system, number)
    )
    return {
        "sieve": sieve,
        "query": urlencode({"q": sieve.text, "show": sieve.show, "level": request.GET.get("level", "")}),
        "shown": SHOWN.items(),
        "levels": range(system.levels),
        "page": page,
        "first": None if sieve.is_set else _first_branch(request, page),
    }


def _first_branch(request: Request, tops: Page[KeySymbol]) -> Page[KeySymbol] | None:
    if tops.paginator.count != 1:
        return None
    return branch_page(request.user, tops[0], 1)


def _sieve(asked: QueryDict, system: KeySystem) -> Sieve:
    """What makes no sense is left out."""
    level = asked.get("level", "")
    return Sieve(
        text=asked.get("q", "").strip(),
        show=show if (show := asked.get("show", "")) in SHOWN else "",
        level=int(level) if level.isdecimal() and int(level) < system.levels else None,
    )


@require_GET
def children(request: Request, pk: UUID) -> HttpResponse:
    """The keys directly below one: a branch of the tree, or a page of its own without scripts."""
    symbol = readable_symbol(request.user, pk)
    context = {
        "symbol": symbol,
        "above": ancestors(symbol)[::-1],
        "page": branch_page(request.user, symbol, request.GET.get("page")),
        "can_extend": symbol.is_master and designs_for(request.user, symbol.system),
    }
    return render(request, partial(request, "systems/children.html", "branch"), context)
