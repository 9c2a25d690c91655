"""The pin stock of a site: its bins, sheets to count and fill them by, and what to buy."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.lib.language import Text
from keyctl.places.models import Site
from keyctl.stock import access, forms, selectors, services
from keyctl.stock.families import families
from keyctl.stock.models import PinBin, PinRole

MOVES_A_PAGE = 25
EVENTS_SHOWN = 10


@dataclass(frozen=True)
class Act:
    """What a sheet is for; its words are the template's."""

    name: str
    form: type[forms.Sheet]
    service: Callable[..., list[PinBin]]
    done: Text


COUNT = Act("count", forms.CountSheet, services.count_bins, gettext_lazy("The count is written down."))
RECEIVE = Act(
    "receive", forms.ReceiveSheet, services.receive_bins, gettext_lazy("The pins are in their bins.")
)
MARKS = Act("marks", forms.MarkSheet, services.mark_bins, gettext_lazy("The low marks are set."))


@require_GET
def sites(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    found = list(access.stock_sites(request.user))
    if len(found) == 1:
        return redirect("stock:site", found[0].pk)
    return render(request, "stock/sites.html", {"sites": found})


@require_GET
def site(request: Request, pk: UUID) -> HttpResponse:
    found = access.stock_site(request.user, pk)
    shelves = selectors.shelves_at(found)
    facts = {"site": found, "shelves": shelves, "can_add": len(shelves) < len(families())}
    return render(request, "stock/site.html", facts)


@require_GET
def reorder(request: Request, pk: UUID) -> HttpResponse:
    found = access.stock_site(request.user, pk)
    facts = {"site": found, "list": selectors.reorder_list(found), "now": timezone.localtime()}
    return render(request, "stock/reorder.html", facts)


@require_http_methods(["GET", "POST"])
def add_kit(request: Request, pk: UUID) -> HttpResponse:
    found = access.stock_site(request.user, pk)
    taken = {shelf.family.id for shelf in selectors.shelves_at(found)}
    form = forms.NewKit(request.POST or None, taken=taken)
    if request.method == "POST":
        bins = form.attempt(services.open_kit, actor=request.user, site=found)
        if bins:
            messages.success(
                request, _("{bins} bins are open. Count them, or fill them.").format(bins=len(bins))
            )
            return redirect(_sheet_url("count", found, bins[0].family, bins[0].role))
    return _answer(request, "stock/add_kit.html", form, {"site": found})


@require_http_methods(["GET", "POST"])
def count(request: Request, pk: UUID) -> HttpResponse:
    return _sheet(request, access.stock_site(request.user, pk), COUNT)


@require_http_methods(["GET", "POST"])
def receive(request: Request, pk: UUID) -> HttpResponse:
    return _sheet(request, access.stock_site(request.user, pk), RECEIVE)


@require_http_methods(["GET", "POST"])
def marks(request: Request, pk: UUID) -> HttpResponse:
    return _sheet(request, access.stock_site(request.user, pk), MARKS)


@require_GET
def bin_(request: Request, pk: UUID) -> HttpResponse:
    return _bin_page(request, access.workable_bin(request.user, pk))


@require_POST
def count_bin(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_bin(request.user, pk)
    form = forms.Count(request.POST)
    done = form.attempt(services.count_pins, actor=request.user, bin=found)
    return _bin_done(request, found, COUNT.done) if done else _bin_page(request, found, count=form)


@require_POST
def move_bin(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_bin(request.user, pk)
    form = forms.Move(request.POST)
    done = form.attempt(services.move_pins, actor=request.user, bin=found)
    return (
        _bin_done(request, found, _("The movement is kept."))
        if done
        else _bin_page(request, found, move=form)
    )


@require_POST
def mark_bin(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_bin(request.user, pk)
    form = forms.LowMark(request.POST)
    done = form.attempt(services.set_low_mark, actor=request.user, bin=found)
    return (
        _bin_done(request, found, _("The low mark is set.")) if done else _bin_page(request, found, mark=form)
    )


def _sheet(request: Request, site: Site, act: Act) -> HttpResponse:
    """A sheet of one kit and role; without a choice, the first of the site."""
    shelf = _shelf(site, request.GET.get("kit", ""))
    role = _role(shelf, request.GET.get("role", ""))
    bins = [bin for bin in shelf.bins if bin.role == role]
    names = {bin.pk: _("Size {size}").format(size=shelf.family.size_name(bin.role, bin.size)) for bin in bins}
    form = act.form(request.POST or None, bins=bins, names=names)
    if request.method == "POST":
        moved = form.attempt(act.service, actor=request.user, site=site)
        if moved:
            messages.success(request, f"{role.label}: {act.done}")
            return redirect(_next_sheet(act, site, shelf, role))
    facts = {"site": site, "act": act, "shelf": shelf, "role": role}
    return _answer(request, "stock/sheet.html", form, facts)


def _shelf(site: Site, kit: str) -> selectors.Shelf:
    for shelf in selectors.shelves_at(site):
        if kit in ("", shelf.family.id):
            return shelf
    raise Http404


def _role(shelf: selectors.Shelf, wanted: str) -> PinRole:
    return next((role for role in shelf.roles if role == wanted), shelf.roles[0])


def _next_sheet(act: Act, site: Site, shelf: selectors.Shelf, role: PinRole) -> str:
    """A kit is counted role by role without going back; after the last one comes the site's page."""
    later = shelf.roles[shelf.roles.index(role) + 1 :]
    if act is COUNT and later:
        return _sheet_url(act.name, site, shelf.family.id, later[0])
    return reverse("stock:site", args=[site.pk])


def _sheet_url(act: str, site: Site, kit: str, role: str) -> str:
    return f"{reverse(f'stock:{act}', args=[site.pk])}?{urlencode({'kit': kit, 'role': role})}"


def _bin_page(request: Request, found: PinBin, **refused: ServiceForm) -> HttpResponse:
    found = access.workable_bin(request.user, found.pk)  # as it is after a refusal
    shelf = _shelf(found.site, found.family)
    facts = {
        "bin": found,
        "family": shelf.family,
        "size_name": shelf.family.size_name(found.role, found.size),
        "count": forms.Count(),
        "move": forms.Move(),
        "mark": forms.LowMark(initial={"low_at": found.low_at}),
        "page": Paginator(selectors.moves_of(found), MOVES_A_PAGE).get_page(request.GET.get("page")),
        "events": history_of(found)[:EVENTS_SHOWN],
    }
    return render(request, "stock/bin.html", facts | refused, status=UNPROCESSABLE if refused else 200)


def _bin_done(request: Request, found: PinBin, sentence: Text) -> HttpResponse:
    messages.success(request, sentence)
    return redirect("stock:bin", found.pk)


def _answer(request: Request, template: str, form: ServiceForm, facts: dict[str, Any]) -> HttpResponse:
    status = UNPROCESSABLE if form.errors else 200
    return render(request, template, {"form": form, **facts}, status=status)
