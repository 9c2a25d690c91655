"""One act on many rows: chosen, tried, looked at, done, undone."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.listing import access, selectors, services
from keyctl.listing.declaring import ActForm, find_list
from keyctl.listing.forms import RowsForm
from keyctl.listing.models import BulkAct, BulkRow
from keyctl.listing.services.beginning import MOST_ROWS
from keyctl.listing.views.back import back_to, query_of

ROWS_ON_A_PAGE = 50
ACTS_ON_A_PAGE = 25


@require_GET
def index(request: Request) -> HttpResponse:
    """One's own, newest first."""
    page = Paginator(selectors.acts_of(request.user), ACTS_ON_A_PAGE).get_page(request.GET.get("page"))
    rows = []
    for bulk in page:
        found = find_list(bulk.list_name)
        rows.append((bulk, found, found.act(bulk.act) if found else None))
    return render(request, "listing/acts.html", {"page": page, "rows": rows})


@require_POST
def begin(request: Request, name: str) -> HttpResponse:
    found = access.readable_list(request.user, name)
    act = found.act(request.POST.get("act", ""))
    if act is None:
        messages.error(request, _("Choose what to do with the rows."))
        return redirect(back_to(request, found))
    query = query_of(request, found)
    said = found.narrowed(QueryDict(query).dict())
    try:
        facts: dict[str, Any] = {"found": found, "act": act, "said": said, "query": query}
        bulk = services.begin_act(actor=request.user, rows=RowsForm(request.POST).chosen(), **facts)
    except Refused as refusal:
        messages.error(request, refusal.message)
        return redirect(back_to(request, found))
    return redirect("listing:act", bulk.pk)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.own_act(request.user, pk))


@require_POST
def try_it(request: Request, pk: UUID) -> HttpResponse:
    bulk = access.own_act(request.user, pk)
    _found, act = access.declared(bulk)
    form = act.form(request.POST, actor=request.user)
    if not form.is_valid():
        return _page(request, bulk, form)
    facts = {name: request.POST.get(name, "") for name in form.fields}
    return _answer(request, bulk, lambda: services.try_act(actor=request.user, bulk=bulk, facts=facts), form)


@require_POST
def do_it(request: Request, pk: UUID) -> HttpResponse:
    bulk = access.own_act(request.user, pk)
    return _answer(request, bulk, lambda: services.do_act(actor=request.user, bulk=bulk))


@require_POST
def undo_it(request: Request, pk: UUID) -> HttpResponse:
    bulk = access.own_act(request.user, pk)
    return _answer(request, bulk, lambda: services.undo_act(actor=request.user, bulk=bulk))


@require_POST
def drop_it(request: Request, pk: UUID) -> HttpResponse:
    bulk = access.own_act(request.user, pk)
    found, _act = access.declared(bulk)
    services.drop_act(actor=request.user, bulk=bulk)
    messages.success(request, _("Given up. Nothing was changed."))
    return redirect(f"{reverse(found.page)}?{bulk.query or 'view=all'}")


def _answer(
    request: Request, bulk: BulkAct, act: Callable[[], object], form: ActForm | None = None
) -> HttpResponse:
    try:
        act()
    except Refused as refusal:
        messages.error(request, refusal.message)
        return _page(request, access.own_act(request.user, bulk.pk), form, refused=True)
    return redirect("listing:act", bulk.pk)


def _page(
    request: Request, bulk: BulkAct, form: ActForm | None = None, *, refused: bool = False
) -> HttpResponse:
    found, act = access.declared(bulk)
    state = request.GET.get("state", "")
    page = Paginator(selectors.rows_of(bulk, state), ROWS_ON_A_PAGE).get_page(request.GET.get("page"))
    counts = selectors.counts_of(bulk)
    is_said = bool(bulk.facts)
    context = {
        "bulk": bulk,
        "list": found,
        "act": act,
        "form": form or act.form(bulk.facts if is_said else None, actor=request.user),
        "counts": counts,
        "number": sum(number for _state, number in counts),
        "would": dict(counts).get(BulkRow.State.WOULD, 0),
        "done": dict(counts).get(BulkRow.State.DONE, 0),
        "page": page,
        "rows": [(row, selectors.touched_words(act, row)) for row in page],
        "state": state,
        "query": f"state={state}" if state in BulkRow.State.values else "",
        "back": f"{reverse(found.page)}?{bulk.query or 'view=all'}",
        "may_undo": bulk.state == BulkAct.State.DONE
        and bulk.undo_until is not None
        and bulk.undo_until > timezone.now(),
        "most": MOST_ROWS,
    }
    status = UNPROCESSABLE if refused or (form and form.errors) else 200
    return render(request, "listing/act.html", context, status=status)
