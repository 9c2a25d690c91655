"""A cabinet between two custodians."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.counts import access, services
from keyctl.counts.forms import ExcuseForm
from keyctl.counts.models import CabinetHandover
from keyctl.counts.views.answering import answer
from keyctl.lib.forms import ServiceForm
from keyctl.places.access import has_role


@require_GET
def handover(request: Request, pk: UUID) -> HttpResponse:
    return _page(request, access.readable_handover(request.user, pk))


@require_POST
def sign(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_handover(request.user, pk)
    if request.user.pk not in {found.giver_id, found.taker_id}:
        raise PermissionDenied
    form = ServiceForm(request.POST)
    if form.attempt(services.sign_handover, actor=request.user, handover=found):
        messages.success(request, _("Signed."))
        return redirect("counts:handover", pk)
    return _page(request, found, form)


@require_POST
def excuse(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_handover(request.user, pk)
    form = ExcuseForm(request.POST)
    if form.attempt(services.excuse_giver, actor=request.user, handover=found):
        messages.success(request, _("Noted. The signature of the old custodian is not waited for."))
        return redirect("counts:handover", pk)
    return _page(request, found, form)


def _page(request: Request, found: CabinetHandover, form: ServiceForm | None = None) -> HttpResponse:
    found = access.readable_handover(request.user, found.pk)
    me = request.user.pk
    signs = (me == found.giver_id and not found.giver_signed_at) or (
        me == found.taker_id and not found.taker_signed_at
    )
    excuses = has_role(request.user, found.cabinet.site, *access.EXCUSERS)
    waits = bool(found.giver) and not found.giver_signed_at and not found.excused_by
    facts = {
        "handover": found,
        "count": found.count,
        "form": form,
        "signs": signs and found.count.state == "closed",
        "excuse": ExcuseForm() if excuses and waits and me not in {found.giver_id, found.taker_id} else None,
        "events": history_of(found),
    }
    return answer(request, "counts/handover.html", facts, form)
