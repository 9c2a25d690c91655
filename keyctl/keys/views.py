"""The key desk: what is out, what is in, and each act on a copy."""

from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request, partial
from keyctl.audit.selectors import history_of
from keyctl.cores.selectors import doors_opened_by
from keyctl.keys import access, selectors, services
from keyctl.keys.drawing import view_key
from keyctl.keys.forms import (
    CopyForm,
    CutForm,
    DestroyForm,
    HandOutForm,
    HolderForm,
    LostForm,
    RevealForm,
    TakeBackForm,
)
from keyctl.keys.models import KeyCopy
from keyctl.keys.reveal import described, reveal_key
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.models import Site

PER_PAGE = 25
MOST_DOORS = 40


@require_GET
def desk(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    text, show = request.GET.get("q", "").strip(), request.GET.get("show", "due")
    today = timezone.localdate()
    lists: dict[str, QuerySet[Any]] = {
        "due": selectors.custodies_due(request.user, today),
        "out": selectors.custodies_out(request.user),
        "stock": selectors.copies_in_stock(request.user),
    }
    show = show if show in lists else "due"
    facts = {
        "text": text,
        "show": show,
        "today": today,
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
def holder(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_holder(request.user, pk)
    past = selectors.register_of_holder(found).filter(ended_at__isnull=False)
    facts = {
        "holder": found,
        "today": timezone.localdate(),
        "held": selectors.open_custodies(found),
        "page": Paginator(past, PER_PAGE).get_page(request.GET.get("page")),
        # Which key a copy is, staff may know; the holder needs only the serial.
        "shows_symbols": access.reads_keys(request.user, found.site),
    }
    return render(request, "keys/holder.html", facts)


@require_http_methods(["GET", "POST"])
def hand_out(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_copy(request.user, pk)
    form = HandOutForm(request.POST or None, copy=found)
    if request.method == "POST":
        custody = form.attempt(services.hand_out, actor=request.user, copy=found)
        if custody:
            return _done(request, found, f"Copy {found} is now with {custody.holder}.")
    return _act(request, found, form, title="Hand out", button="Hand out the key")


@require_http_methods(["GET", "POST"])
def take_back(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_copy(request.user, pk)
    form = TakeBackForm(request.POST or None, copy=found)
    if request.method == "POST":
        done = form.attempt(services.take_back, actor=request.user, copy=found)
        if done:
            return _done(request, found, f"Copy {found} is back in its cabinet.")
    return _act(request, found, form, title="Take back", button="Take the key back")


@require_http_methods(["GET", "POST"])
def lost(request: Request, pk: UUID) -> HttpResponse:
    found = access.losable_copy(request.user, pk)
    form = LostForm(request.POST or None, copy=found)
    if request.method == "POST":
        done = form.attempt(services.report_lost, actor=request.user, copy=found)
        if done:
            return _done(request, found, f"Copy {found} is reported lost. Look at the doors it opens.")
    return _act(request, found, form, title="Report lost", button="Report the key lost", is_grave=True)


@require_http_methods(["GET", "POST"])
def destroy(request: Request, pk: UUID) -> HttpResponse:
    found = access.destroyable_copy(request.user, pk)
    form = DestroyForm(request.POST or None, copy=found)
    if request.method == "POST":
        done = form.attempt(services.destroy_copy, actor=request.user, copy=found)
        if done:
            return _done(request, found, f"Copy {found} is destroyed.")
    return _act(request, found, form, title="Destroy", button="The key is destroyed", is_grave=True)


@require_http_methods(["GET", "POST"])
def cut(request: Request, pk: UUID) -> HttpResponse:
    site = access.cutting_site(request.user, pk)
    symbol = access.symbol_to_cut(site, request.GET.get("symbol", ""))
    form = CutForm(request.POST or None, site=site, symbol=symbol)
    if request.method == "POST":
        copies = form.attempt(services.cut_copies, actor=request.user, site=site)
        if copies:
            serials = ", ".join(str(each) for each in copies)
            messages.success(request, f"In stock now, with these serials: {serials}.")
            return redirect(f"{reverse('keys:desk')}?show=stock")
    return _answer(request, "keys/cut.html", form, {"site": site, "symbol": symbol})


@never_cache
@require_POST
def drawing(request: Request, pk: UUID) -> HttpResponse:
    """The cuts of one key, for a locksmith with a reason: a piece of the key's page, or a page alone."""
    symbol = access.cuttable_symbol(request.user, pk)
    form = RevealForm(request.POST)
    bitting = form.attempt(reveal_key, actor=request.user, symbol=symbol)
    name, what = f"k{uuid4().hex[:8]}", described(symbol)
    view = bitting and view_key(symbol.system.format_id, bitting, name=name, title=f"Cuts of {what}")
    template = "keys/_cuts.html" if request.htmx else "keys/drawing.html"
    context = {"symbol": symbol, "what": what, "form": form, "view": view}
    return render(request, template, context, status=200 if view else UNPROCESSABLE)


@require_http_methods(["GET", "POST"])
def new_holder(request: Request, pk: UUID) -> HttpResponse:
    site = access.desk_site(request.user, pk)
    form = HolderForm(request.POST or None)
    if request.method == "POST":
        made = form.attempt(services.register_holder, actor=request.user, site=site)
        if made:
            messages.success(request, f"{made} is registered at {site}.")
            return redirect("keys:holder", made.pk)
    return _answer(request, "keys/new_holder.html", form, {"site": site})


def _act(request: Request, found: KeyCopy, form: CopyForm, **words: Any) -> HttpResponse:
    return _answer(request, "keys/act.html", form, {"copy": found, **words})


def _answer(request: Request, template: str, form: ServiceForm, facts: dict[str, Any]) -> HttpResponse:
    status = UNPROCESSABLE if form.errors else 200
    return render(request, template, {"form": form, **facts}, status=status)


def _done(request: Request, found: KeyCopy, sentence: str) -> HttpResponse:
    messages.success(request, sentence)
    return redirect("keys:copy", found.pk)
