"""What is due, late, being counted and done; the cases; and a holder's own counts."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from keyctl.accounts.http import Request, partial
from keyctl.counts import access, services
from keyctl.counts.forms import DeclareForm
from keyctl.counts.selectors import cases, counting
from keyctl.counts.views.answering import answer

PER_PAGE = 25
SHOWN = ("due", "running", "done", "cases")


@require_GET
def index(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    today = timezone.localdate()
    found = counting.overview(request.user, today)
    show = request.GET.get("show", "due")
    show = show if show in SHOWN else "due"
    rows: Any = {
        "due": found.due,
        "running": found.running,
        "done": found.done,
        "cases": cases.cases_by_state(request.user),
    }[show]
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    facts = {
        "show": show,
        "today": today,
        "found": found,
        "late": found.late(today),
        "page": page,
        "rows": _rows(show, list(page), today),
        "query": urlencode({"show": show}),
        "handovers": counting.open_handovers(access.visible_handovers(request.user)),
        "sites": access.count_sites(request.user),
        "counting_sites": access.counting_sites(request.user),
        "reporting_sites": access.reporting_sites(request.user),
    }
    return render(request, partial(request, "counts/list.html", "results"), facts)


def _rows(show: str, listed: list[Any], today: Any) -> list[Any]:
    if show == "cases":
        return cases.rows(listed)
    return [(due, due.is_late(today)) for due in listed] if show == "due" else listed


@require_GET
def mine(request: Request) -> HttpResponse:
    """The counts in which the signed-in person is the holder."""
    found = access.own_counts(request.user)
    return render(request, "counts/mine.html", {"counts": found.order_by("due_on", "number")})


@require_http_methods(["GET", "POST"])
def declare(request: Request, pk: UUID) -> HttpResponse:
    count = access.declarable_count(request.user, pk)
    copies = counting.keys_to_declare(count)
    form = DeclareForm(request.POST or None, copies=copies)
    if request.method == "POST":
        said = form.attempt(services.declare_keys, actor=request.user, count=count)
        if said is not None:
            messages.success(
                request,
                _("Kept as your word: {said} of your keys. Nobody has seen them yet.").format(said=said),
            )
            return redirect("counts:mine")
    facts = {"count": count, "form": form, "copies": copies, "tally": counting.tally(count)}
    return answer(request, "counts/declare.html", facts, form)
