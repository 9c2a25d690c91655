"""Which columns a list shows, and in what order."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from keyctl.accounts.http import Request
from keyctl.lib.forms import ServiceForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.listing import services
from keyctl.listing.access import readable_list
from keyctl.listing.columns import as_sent, choices_of
from keyctl.listing.declaring import List
from keyctl.listing.shown import shown_list
from keyctl.listing.views.back import back_to, query_of


@require_http_methods(["GET", "POST"])
def columns(request: Request, name: str) -> HttpResponse:
    """Moving a column shows the form again; nothing is kept before the button says so."""
    found = readable_list(request.user, name)
    form = ServiceForm(request.POST or None)
    choices = choices_of(found, shown_list(request, found).columns)
    if request.method == "POST":
        ticked = request.POST.getlist("shown")
        choices = as_sent(found, request.POST.getlist("order"), ticked, request.POST.dict())
        if not request.POST.keys() & {"up", "down"}:
            if "usual" in request.POST or not ticked:
                wanted = []
            else:
                wanted = [each.column.name for each in choices if each.is_shown]
            return _keep(request, found, form, wanted)
    facts = {"list": found, "choices": choices, "query": query_of(request, found), "moved": _moved(request)}
    return render(request, "listing/columns.html", facts, status=UNPROCESSABLE if form.errors else 200)


def _keep(request: Request, found: List, form: ServiceForm, wanted: list[str]) -> HttpResponse:
    form.attempt(services.choose_columns, actor=request.user, found=found, columns=wanted)
    messages.success(request, _("The list shows these columns to you from now on."))
    return redirect(back_to(request, found, without_view=True))


def _moved(request: Request) -> str:
    """The column that was moved last: its button has the focus again."""
    return request.POST.get("up") or request.POST.get("down") or ""
