"""All formats, one format, the page that makes one with live checks, and the blank table."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request, partial
from keyctl.audit.selectors import history_of
from keyctl.engine import CoreFormat
from keyctl.formats import access, services, wording
from keyctl.formats.checking import check_of
from keyctl.formats.drawing import draw_format
from keyctl.formats.fitting import known_keyways
from keyctl.formats.forms import FormatForm, KeywayFitForm
from keyctl.formats.keyways import add_keyway_fit, remove_keyway_fit
from keyctl.formats.naming import name_of
from keyctl.formats.parameters import typed
from keyctl.formats.proof import self_proof
from keyctl.formats.selectors import blank_table, formats_by_construction
from keyctl.lib.http import UNPROCESSABLE

NEW = "formats/new.html"


@require_GET
def format_list(request: Request) -> HttpResponse:
    groups = formats_by_construction(request.user)
    return render(request, "formats/list.html", {"groups": groups, "can_make": access.may_make(request.user)})


@require_GET
def detail(request: Request, format_id: str) -> HttpResponse:
    known = access.readable_format(request.user, format_id)
    context = {
        "known": known,
        "events": history_of(known.shop) if known.shop else None,
        "can_make": access.may_make(request.user),
        **_picture_of(known.format),
    }
    return render(request, "formats/detail.html", context)


@require_http_methods(["GET", "POST"])
def new(request: Request) -> HttpResponse:
    access.require_maker(request.user)
    if request.method == "GET":
        return _page(request, FormatForm(initial=_copied(request)))
    form = FormatForm(request.POST)
    if made := form.attempt(services.make_format, actor=request.user):
        messages.success(
            request, _("{made} is made. It can be used for key systems from now on.").format(made=made)
        )
        return redirect("formats:detail", made.format_id)
    return _page(request, form, status=UNPROCESSABLE)


@require_POST
def check(request: Request) -> HttpResponse:
    """Nothing is stored: the form comes back with what is wrong, missing or impossible."""
    access.require_maker(request.user)
    return _page(request, FormatForm(request.POST))


@require_POST
def retire(request: Request, format_id: str) -> HttpResponse:
    shop_format = access.retirable_format(request.user, format_id)
    services.retire_format(actor=request.user, shop_format=shop_format)
    messages.success(
        request,
        _("{shop_format} is retired. What was made by it goes on working.").format(shop_format=shop_format),
    )
    return redirect("formats:detail", format_id)


@require_http_methods(["GET", "POST"])
def keyways(request: Request) -> HttpResponse:
    """Which blanks enter which keyways: read by the whole staff, written by whoever works with keys."""
    if request.method == "POST":
        access.require_fitter(request.user)
    form = KeywayFitForm(request.POST or None, keyways=known_keyways())
    if request.method == "POST" and (fit := form.attempt(add_keyway_fit, actor=request.user)):
        messages.success(request, wording.fit_added(fit))
        return redirect("formats:keyways")
    context = {
        "fits": blank_table(request.user),
        "form": form if access.may_fit(request.user) else None,
        "keyways": known_keyways(),
    }
    return render(request, "formats/keyways.html", context, status=UNPROCESSABLE if form.is_bound else 200)


@require_POST
def remove_keyway(request: Request, pk: UUID) -> HttpResponse:
    fit = access.removable_fit(request.user, pk)
    remove_keyway_fit(actor=request.user, fit=fit)
    messages.success(
        request,
        _("{fit} is out of the blank table, and the turns that rested on it are gone.").format(fit=fit),
    )
    return redirect("formats:keyways")


def _page(request: Request, form: FormatForm, *, status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "check": check_of(form) if form.is_bound else None,
        "groups": formats_by_construction(request.user),
        "copied": request.GET.get("from", ""),
    }
    return render(request, partial(request, NEW, "checked"), context, status=status)


def _copied(request: Request) -> dict[str, Any]:
    """The figures of the format to copy; its name and id stay its own."""
    source = request.GET.get("from")
    if not source:
        return {"unit": "thousandths", "step": 1}
    return typed(access.readable_format(request.user, source).format)


def _picture_of(format: CoreFormat) -> dict[str, Any]:
    return {
        "format": format,
        "facts": wording.facts_of(format),
        "depths": wording.depths_of(format),
        "has_own_count": wording.has_own_count(format),
        "kit": wording.kit_of(format),
        "drivers": wording.driver_rows(format),
        "drawing": draw_format(
            format, name="format", title=_("The chambers of {name}").format(name=name_of(format))
        ),
        "proof": self_proof(format),
    }
