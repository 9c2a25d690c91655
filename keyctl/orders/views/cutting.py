"""Orders to cut keys: say how many of which key, and put the cut copies into their cabinet."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from keyctl.accounts.http import Request, partial
from keyctl.lib.http import UNPROCESSABLE
from keyctl.orders import access, selectors, services
from keyctl.orders.forms import NewCutOrder
from keyctl.orders.views.opening import chosen_site, is_sent, read_uuid, typed
from keyctl.places.models import Site
from keyctl.systems.models import KeySystem


@require_http_methods(["GET", "POST"])
def new_cut(request: Request) -> HttpResponse:
    site = chosen_site(request)
    counts = _counts(request)
    system = system_in_use(request.GET, site)
    form = NewCutOrder(
        request.POST if is_sent(request) else None,
        initial=typed(request) | {"cabinet": request.POST.get("cabinet")},
        keys=access.keys_of(site).filter(system=system),
        cabinets=site.cabinets.all(),
    )
    if form.is_bound:
        order = form.attempt(services.open_cut_order, actor=request.user, site=site)
        if order:
            return redirect("orders:detail", order.pk)
    context = {"form": form, "site": site, "system": system, "systems": site.key_systems.all()}
    context |= {"sites": access.workable_sites(request.user), **_choices(request, form, counts)}
    status = UNPROCESSABLE if form.errors else 200
    return render(request, partial(request, "orders/new_cut.html", "choices"), context, status=status)


@require_POST
def cut(request: Request, pk: UUID) -> HttpResponse:
    line = services.cut_line(actor=request.user, line=access.workable_line(request.user, pk))
    serials = ", ".join(map(str, line.copies.all()))
    messages.success(
        request,
        _("In {cabinet} now: {serials}. Stamp each copy with its serial only.").format(
            cabinet=line.cabinet, serials=serials
        ),
    )
    return redirect("orders:detail", line.order_id)


def _counts(request: Request) -> dict[UUID, str]:
    """What stands in the boxes: typed before, or one each of the keys that a link named."""
    if request.method == "POST":
        return NewCutOrder.typed_counts(request.POST)
    return {read_uuid(text): "1" for text in request.GET.getlist("symbol")}


def system_in_use(query: QueryDict, site: Site) -> KeySystem | None:
    """The system that the address names, or the one of the first key it names."""
    if wanted := query.get("system"):
        return access.system_of(site, read_uuid(wanted))
    if named := query.getlist("symbol"):
        return access.key_of(site, read_uuid(named[0])).system
    return site.key_systems.first()


def _choices(request: Request, form: NewCutOrder, counts: dict[UUID, str]) -> dict[str, Any]:
    """The keys with a number first, then what the search found."""
    text = request.POST.get("q", "")
    found = list(
        selectors.matching_keys(form.keys, text).exclude(pk__in=counts)[: selectors.SHOWN_AT_ONCE + 1]
    )
    chosen = selectors.matching_keys(form.keys.filter(pk__in=counts), "")
    return {
        "chosen": [(key, counts[key.pk]) for key in chosen],
        "found": found[: selectors.SHOWN_AT_ONCE],
        "has_more": len(found) > selectors.SHOWN_AT_ONCE,
        "text": text,
    }
