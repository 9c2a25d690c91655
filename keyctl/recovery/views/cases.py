"""The list of cases, opening one, its page, and its end."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.recovery import access, selectors, services
from keyctl.recovery.forms import CancelForm, ChooseCoreForm, CloseForm, OpenForm
from keyctl.recovery.views.page import act, show_case

PER_PAGE = 25


@require_GET
def index(request: Request) -> HttpResponse:
    cases = selectors.cases_by_state(request.user)
    facts = {
        "page": Paginator(cases, PER_PAGE).get_page(request.GET.get("page")),
        "works": access.workable_sites(request.user).exists(),
    }
    return render(request, "recovery/list.html", facts)


@require_http_methods(["GET", "POST"])
def new(request: Request) -> HttpResponse:
    access.refuse_idle(request.user)
    form = OpenForm(request.POST or None, actor=request.user)
    if request.method == "POST" and (made := form.attempt(services.open_case, actor=request.user)):
        messages.success(request, _("The case is open. Read the cautions, then follow the steps."))
        return redirect("recovery:detail", made.pk)
    return render(request, "recovery/new.html", {"form": form}, status=UNPROCESSABLE if form.errors else 200)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    return show_case(request, access.readable_case(request.user, pk))


@require_POST
def choose_core(request: Request, pk: UUID) -> HttpResponse:
    case = access.workable_case(request.user, pk)
    form = ChooseCoreForm(request.POST, seen=case)
    return act(request, case, form, services.choose_core, _("The core is chosen."))


@require_POST
def close(request: Request, pk: UUID) -> HttpResponse:
    case = access.workable_case(request.user, pk)
    form = CloseForm(request.POST, seen=case)
    return act(request, case, form, services.close_case, _("The case is closed."))


@require_POST
def cancel(request: Request, pk: UUID) -> HttpResponse:
    case = access.workable_case(request.user, pk)
    form = CancelForm(request.POST, seen=case)
    return act(request, case, form, services.cancel_case, _("The case is cancelled."))
