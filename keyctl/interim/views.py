"""Cores for a time: which are where, marking one, giving it longer, letting it stay."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.interim import access, selectors, services
from keyctl.interim.forms import ChangeForm, MarkForm, StayForm
from keyctl.interim.models import Interim
from keyctl.lib.days import day
from keyctl.lib.http import UNPROCESSABLE

PER_PAGE = 50


@require_GET
def index(request: Request) -> HttpResponse:
    access.refuse_outsiders(request.user)
    page = Paginator(selectors.standing_interims(request.user), PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "interim/list.html", {"page": page})


@require_http_methods(["GET", "POST"])
def mark(request: Request, pk: UUID) -> HttpResponse:
    core = access.markable_core(request.user, pk)
    form = MarkForm(request.POST or None)
    made = form.attempt(services.mark_interim, actor=request.user, core=core)
    if made:
        messages.success(
            request, _("Core {core} must leave by {until}.").format(core=core, until=day(made.until))
        )
        return redirect("cores:detail", core.pk)
    facts = {"core": core, "form": form}
    return render(request, "interim/mark.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_http_methods(["GET", "POST"])
def change(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_interim(request.user, pk)
    if request.method == "GET":
        return _page(request, found, ChangeForm.of(found))
    form = ChangeForm(request.POST)
    if form.attempt(services.change_day, actor=request.user, interim=found):
        messages.success(request, _("The day is changed."))
        return redirect("cores:detail", found.core.pk)
    return _page(request, found, form)


@require_POST
def stay(request: Request, pk: UUID) -> HttpResponse:
    found = access.workable_interim(request.user, pk)
    form = StayForm(request.POST)
    if form.attempt(services.let_stay, actor=request.user, interim=found):
        messages.success(request, _("Core {core} stays where it is.").format(core=found.core))
        return redirect("cores:detail", found.core.pk)
    return _page(request, found, ChangeForm.of(found), form)


def _page(request: Request, found: Interim, form: ChangeForm, stay: StayForm | None = None) -> HttpResponse:
    facts = {"interim": found, "core": found.core, "form": form}
    facts["stay"] = stay or StayForm(initial={"version": found.version}, auto_id="stay-%s")
    wrong = form.errors or (stay and stay.errors)
    return render(request, "interim/change.html", facts, status=UNPROCESSABLE if wrong else 200)
