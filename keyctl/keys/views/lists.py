"""What is out, what is due, what is in; and one copy with all that is known of it."""

from uuid import UUID, uuid4

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
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
from keyctl.keys.lists import SHOWS, list_showing
from keyctl.keys.reveal import described, reveal_key
from keyctl.lib.http import UNPROCESSABLE
from keyctl.listing.shown import shown_list
from keyctl.places.models import Site

PER_PAGE = 25
MOST_DOORS = 40


@require_GET
def desk(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    text, show = request.GET.get("q", "").strip(), request.GET.get("show", "due")
    show = show if show in SHOWS else "due"
    declared = list_showing(show)
    shown = shown_list(request, declared, show=show)
    rows = shown.ordered(declared.rows(request.user, {"show": show}))
    facts = {
        "text": text,
        "show": show,
        "found": selectors.find(request.user, text) if text else None,
        "shown": shown,
        "page": None if text else Paginator(rows, PER_PAGE).get_page(request.GET.get("page")),
        "query": shown.query,
        "counts": {each: list_showing(each).rows(request.user, {"show": each}).count() for each in SHOWS},
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
    view = bitting and view_key(
        symbol.system.format_id, bitting, name=name, title=_("Cuts of {what}").format(what=what)
    )
    template = "keys/_cuts.html" if request.htmx else "keys/drawing.html"
    context = {"symbol": symbol, "what": what, "form": form, "view": view}
    return render(request, template, context, status=200 if view else UNPROCESSABLE)
