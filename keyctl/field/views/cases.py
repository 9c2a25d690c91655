"""Cases: the stories side by side, and the form that settles them."""

from http import HTTPStatus
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.field import access, services
from keyctl.field.models import ReconcileCase
from keyctl.field.selectors.cases import cases_by_state, standing_of, stories_of
from keyctl.field.selectors.quarantine import waiting_for
from keyctl.field.settling_form import SettleForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role

CASES_ON_A_PAGE = 25
OPEN = ReconcileCase.State.OPEN


@require_GET
def cases(request: Request) -> HttpResponse:
    access.require_reader_somewhere(request.user)
    show = request.GET.get("show", OPEN)
    state = show if show in ReconcileCase.State else ""
    pages = Paginator(cases_by_state(request.user, state), CASES_ON_A_PAGE)
    facts = {
        "page": pages.get_page(request.GET.get("page")),
        "show": state,
        "query": f"show={show}" if state else "show=all",
        "states": ReconcileCase.State.choices,
        "waiting": waiting_for(request.user).count(),
        "works": access.field_sites(request.user).exists(),
    }
    return render(request, "field/cases.html", facts)


@require_GET
def case(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_case(request.user, pk))


@require_POST
def settle(request: Request, pk: UUID) -> HttpResponse:
    found = access.settleable_case(request.user, pk)
    form = SettleForm(request.POST, case=found)
    if form.attempt(services.settle_case, actor=request.user, case=found):
        messages.success(request, _("Settled. The register says what you said."))
        return redirect("field:case", pk)
    return _page(request, access.readable_case(request.user, pk), form)


def _page(request: Request, found: ReconcileCase, form: SettleForm | None = None) -> HttpResponse:
    settles = found.is_open and has_role(request.user, found.site, *access.SETTLERS)
    facts = {
        "case": found,
        "stories": stories_of(found),
        "standing": standing_of(found),
        "form": form,
        "settle": (form or SettleForm(case=found)) if settles else None,
        "events": history_of(found),
    }
    return render(request, "field/case.html", facts, status=UNPROCESSABLE if form else HTTPStatus.OK)
