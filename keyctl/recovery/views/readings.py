"""Reading cores: the pins of one, and where two contradict each other."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from keyctl import engine
from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.lib.forms import VersionForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.recovery import access, selectors, services
from keyctl.recovery.forms import ReadingForm
from keyctl.recovery.models import ControlKeyCase
from keyctl.recovery.views.page import act, show_case


@never_cache
@require_http_methods(["GET", "POST"])
def read(request: Request, pk: UUID) -> HttpResponse:
    case = access.workable_case(request.user, pk)
    if not case.is_open or case.way != ControlKeyCase.Way.DECODE:
        return redirect("recovery:detail", case.pk)
    form = ReadingForm(request.POST or None, seen=case)
    done = (
        form.attempt(services.read_core, actor=request.user, case=case) if request.method == "POST" else None
    )
    if done:
        messages.success(request, _("Core {core} is read. What it gave is sealed.").format(core=done.core))
        return redirect("recovery:detail", case.pk)
    facts = {
        "case": case,
        "form": form,
        "format": engine.load_format(case.system.format_id),
        "number": selectors.standing_readings(case).count() + 1,
        "at_hand": selectors.cores_at_hand(case),
    }
    return render(request, "recovery/read.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def set_aside(request: Request, pk: UUID) -> HttpResponse:
    reading = access.workable_reading(request.user, pk)
    form = VersionForm(request.POST, seen=reading.case)
    words = _("The reading is set aside. Read the core again, or another one.")
    return act(request, reading.case, form, services.set_aside_reading, words, reading=reading)


@never_cache
@require_POST
def differences(request: Request, pk: UUID) -> HttpResponse:
    case = access.workable_case(request.user, pk)
    form = VersionForm(request.POST, seen=case)
    facts = {"actor": request.user, "case": case, "sign_in": fresh_sign_in(request)}
    found = form.attempt(services.show_differences, **facts)
    if found is None:
        return show_case(request, case, form)
    return render(request, "recovery/differences.html", {"case": case, "differences": found})
