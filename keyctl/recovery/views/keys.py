"""The new control key: chosen, approved by a second person, shown or cut."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.lib.forms import VersionForm
from keyctl.recovery import access, services
from keyctl.recovery.forms import ChooseKeyForm, CutForm
from keyctl.recovery.views.page import act, show_case


@require_POST
def choose_key(request: Request, pk: UUID) -> HttpResponse:
    case = access.workable_case(request.user, pk)
    form = ChooseKeyForm(request.POST, seen=case)
    return act(
        request, case, form, services.choose_key, _("The key is chosen. A second person approves now.")
    )


@require_POST
def approve(request: Request, pk: UUID) -> HttpResponse:
    case = access.approvable_case(request.user, pk)
    form = VersionForm(request.POST, seen=case)
    return act(request, case, form, services.approve_control_key, _("Approved, for one control key."))


@never_cache
@require_POST
def show(request: Request, pk: UUID) -> HttpResponse:
    """The cuts, once; the address holds nothing of them and the page is kept nowhere."""
    case = access.workable_case(request.user, pk)
    form = VersionForm(request.POST, seen=case)
    facts = {"actor": request.user, "case": case, "sign_in": fresh_sign_in(request)}
    key = form.attempt(services.show_control_key, **facts)
    if key is None:
        return show_case(request, case, form)
    return render(request, "recovery/control_key.html", {"case": case, "key": key})


@never_cache
@require_POST
def cut(request: Request, pk: UUID) -> HttpResponse:
    case = access.workable_case(request.user, pk)
    form = CutForm(request.POST, seen=case)
    facts = {"actor": request.user, "case": case, "sign_in": fresh_sign_in(request)}
    key = form.attempt(services.cut_blank, **facts)
    if key is None:
        return show_case(request, case, form)
    return render(request, "recovery/cut.html", {"case": case, "key": key})
