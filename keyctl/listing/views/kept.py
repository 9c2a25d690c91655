"""Views that people keep of a list: their names, with whom they are shared, which one the list opens with."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.listing import access, services
from keyctl.listing.declaring import List, find_list
from keyctl.listing.forms import ViewForm
from keyctl.listing.models import SavedView
from keyctl.listing.selectors import view_rows
from keyctl.listing.shown import shown_list, words_of_view
from keyctl.listing.views.back import query_of


@require_GET
def index(request: Request, name: str) -> HttpResponse:
    found = access.readable_list(request.user, name)
    facts = {"list": found, "rows": view_rows(request.user, found), "query": query_of(request, found)}
    return render(request, "listing/views.html", facts)


@require_http_methods(["GET", "POST"])
def keep(request: Request, name: str) -> HttpResponse:
    """What the address narrows the list to, its columns and its order, under a name."""
    found = access.readable_list(request.user, name)
    shown = shown_list(request, found)
    sites = access.sharing_sites(request.user, found)
    mine = shown.view if shown.view and shown.view.owner_id == request.user.pk else None
    form = ViewForm(request.POST or None, sites=sites, initial={"name": mine.name if mine else ""})
    if request.method == "POST":
        columns = [column.name for column in shown.columns]
        facts = {"found": found, "said": shown.said, "columns": columns, "sort": shown.sort}
        if view := form.attempt(services.keep_view, actor=request.user, **facts):
            messages.success(request, _("The view “{view}” is kept.").format(view=view))
            return redirect(_address(found, view))
    return _form(request, found, form, shown=shown)


@require_http_methods(["GET", "POST"])
def change(request: Request, pk: UUID) -> HttpResponse:
    view = access.own_view(request.user, pk)
    found = _list_of(view)
    sites = access.sharing_sites(request.user, found)
    form = ViewForm(request.POST or None, sites=sites, view=view)
    facts = {"actor": request.user, "view": view, "found": found}
    if request.method == "POST" and form.attempt(services.change_view, **facts) is not None:
        messages.success(request, _("The view is changed."))
        return redirect("listing:views", found.name)
    return _form(request, found, form, view=view)


@require_POST
def remove(request: Request, pk: UUID) -> HttpResponse:
    view = access.own_view(request.user, pk)
    found = _list_of(view)
    services.remove_view(actor=request.user, view=view)
    messages.success(request, _("The view is removed."))
    return redirect("listing:views", found.name)


@require_POST
def open_with(request: Request, pk: UUID) -> HttpResponse:
    view = access.readable_view(request.user, pk)
    found = _list_of(view)
    services.open_with(actor=request.user, found=found, view=view)
    messages.success(request, _("The list opens with “{view}” from now on.").format(view=view))
    return redirect("listing:views", found.name)


@require_POST
def open_whole(request: Request, name: str) -> HttpResponse:
    found = access.readable_list(request.user, name)
    services.open_with(actor=request.user, found=found, view=None)
    messages.success(request, _("The list opens whole from now on."))
    return redirect("listing:views", found.name)


def _form(request: Request, found: List, form: ViewForm, **facts: Any) -> HttpResponse:
    context = {"list": found, "form": form, "query": query_of(request, found), **facts}
    return render(request, "listing/view.html", context, status=UNPROCESSABLE if form.errors else 200)


def _address(found: List, view: SavedView) -> str:
    return f"{reverse(found.page)}?{words_of_view(found, view)}"


def _list_of(view: SavedView) -> List:
    found = find_list(view.list_name)
    if found is None:
        raise Http404
    return found
