"""What the lost keys open, door by door, and the holders who hear of it."""

from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request, partial
from keyctl.losses import access, calling, selectors, services
from keyctl.losses.figures import Figures
from keyctl.losses.forms import CallForm, DoorFilter
from keyctl.losses.listing import door_page, lines_of
from keyctl.losses.lost import LostKeys
from keyctl.losses.services.looking import running_look

DOORS_ON_A_PAGE = 25
HOLDERS_ON_A_PAGE = 25


@require_GET
def doors(request: Request, pk: UUID) -> HttpResponse:
    case = access.readable_case(request.user, pk)
    buildings = [row.building for row in selectors.buildings_of(request.user, case)]
    form = DoorFilter(request.GET, buildings=buildings)
    wanted = form.chosen()
    page = door_page(request.user, case, wanted, request.GET.get("page"), DOORS_ON_A_PAGE)
    facts = {
        "case": case,
        "figures": Figures.of(case),
        "keys": LostKeys.of(case).sorted,
        "elsewhere": selectors.elsewhere(request.user, case),
        "look_job": running_look(case),
        "form": form,
        "page": page,
        "rows": lines_of(case, page),
        "query": urlencode(wanted),
    }
    return render(request, partial(request, "losses/doors.html", "doors"), facts)


@require_GET
def holders(request: Request, pk: UUID) -> HttpResponse:
    """Those of one's own sites; who reads keys there reads whom they are with."""
    case = access.readable_case(request.user, pk)
    found = calling.holders_to_call(request.user, case)
    page = Paginator(found, HOLDERS_ON_A_PAGE).get_page(request.GET.get("page"))
    facts = {
        "case": case,
        "page": page,
        "rows": calling.call_rows(case, page),
        "losers": calling.losers_of(case),
        "writes": access.has_role_in(request.user, case, *access.NOTERS) and case.is_unfinished,
    }
    return render(request, "losses/holders.html", facts)


@require_POST
def call(request: Request, pk: UUID) -> HttpResponse:
    case = access.notable_case(request.user, pk)
    form = CallForm(request.POST, holders=calling.callable_holders(request.user))
    if note := form.attempt(services.call_holder, actor=request.user, case=case):
        messages.success(request, _("Written down: {holder} was called.").format(holder=note.holder))
    else:
        messages.error(
            request, " ".join(str(error) for error in form.non_field_errors()) or _("Not written.")
        )
    return redirect("losses:holders", case.pk)
