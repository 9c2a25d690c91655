"""What is out, what is due, what is in; and one copy with all that is known of it."""

from typing import Any
from uuid import UUID, uuid4

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request, partial
from keyctl.audit.selectors import history_of
from keyctl.cores.selectors import doors_opened_by
from keyctl.keys import access, selectors
from keyctl.keys.drawing import view_key
from keyctl.keys.forms import RevealForm
from keyctl.keys.law import breaches
from keyctl.keys.reveal import described, reveal_key
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.models import Site

PER_PAGE = 25
MOST_DOORS = 40


@require_GET
def desk(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    text, show = request.GET.get("q", "").strip(), request.GET.get("show", "due")
    lists: dict[str, QuerySet[Any]] = {
        "due": selectors.custodies_due(request.user, timezone.localdate()),
        "overdue": selectors.custodies_overdue(request.user, timezone.now()),
        "out": selectors.custodies_out(request.user),
        "stock": selectors.copies_in_stock(request.user),
        "broken": selectors.copies_broken(request.user),
    }
    show = show if show in lists else "due"
    facts = {
        "text": text,
        "show": show,
        "found": selectors.find(request.user, text) if text else None,
        "page": None if text else Paginator(lists[show], PER_PAGE).get_page(request.GET.get("page")),
        "query": urlencode({"show": show}),
        "counts": {name: rows.count() for name, rows in lists.items()},
        "cutting_sites": Site.objects.for_roles(request.user, *access.CUTTERS),
        "desk_sites": Site.objects.for_roles(request.user, *access.DESK),
    }
    return render(request, partial(request, "keys/desk.html", "results"), facts)


@require_GET
def copy(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_copy(request.user, pk)
    doors = doors_opened_by(found.symbol).filter(floor__building__site=found.site)
    facts = {
        "copy": found,
        "acts": selectors.acts_on(request.user, found),
        "register": selectors.register_of_copy(found),
        "law": selectors.law_count(found.symbol),
        "door_count": doors.count(),
        "doors": doors[:MOST_DOORS],
        "events": history_of(found),
    }
    return render(request, "keys/copy.html", facts)


@require_GET
def law(request: Request) -> HttpResponse:
    """Whether copies and register agree, counted now."""
    access.refuse_outsiders(request.user)
    sites = access.key_sites(request.user)
    return render(request, "keys/law.html", {"breaches": breaches(sites), "sites": sites})


@never_cache
@require_POST
def drawing(request: Request, pk: UUID) -> HttpResponse:
    """The cuts of one key, for a locksmith at work on it: a piece of the key's page, or a page alone."""
    symbol = access.cuttable_symbol(request.user, pk)
    form = RevealForm(request.POST)
    facts = {"actor": request.user, "symbol": symbol, "sign_in": fresh_sign_in(request)}
    bitting = form.attempt(reveal_key, **facts)
    name, what = f"k{uuid4().hex[:8]}", described(symbol)
    view = bitting and view_key(symbol.system.format_id, bitting, name=name, title=f"Cuts of {what}")
    template = "keys/_cuts.html" if request.htmx else "keys/drawing.html"
    context = {"symbol": symbol, "what": what, "form": form, "view": view}
    return render(request, template, context, status=200 if view else UNPROCESSABLE)
