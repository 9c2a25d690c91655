"""Acts on a rotation as a whole: each goes back to its page."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.rotations import access, services
from keyctl.rotations.areas import spares_at
from keyctl.rotations.forms import CancelForm, SparesForm, TermsForm
from keyctl.rotations.models import Rotation
from keyctl.rotations.views.page import show


@require_POST
def plan(request: Request, pk: UUID) -> HttpResponse:
    rotation = access.workable_rotation(request.user, pk)
    job = services.start_plan(actor=request.user, rotation=rotation)
    return redirect("jobs:detail", job.pk)


@require_POST
def accept(request: Request, pk: UUID) -> HttpResponse:
    return _act(request, pk, services.accept_plan, _("The plan is accepted. Begin the first wave."))


@require_POST
def begin(request: Request, pk: UUID) -> HttpResponse:
    return _act(request, pk, services.begin_wave, _("The wave has begun: its orders are open."))


@require_POST
def later(request: Request, pk: UUID) -> HttpResponse:
    rotation = access.workable_rotation(request.user, pk)
    form = VersionForm(request.POST, seen=rotation)
    job = form.attempt(services.move_later, actor=request.user, rotation=rotation)
    return show(request, rotation, form) if job is None else redirect("jobs:detail", job.pk)


@require_POST
def pause(request: Request, pk: UUID) -> HttpResponse:
    return _act(request, pk, services.pause, _("Paused. No wave begins until you go on."))


@require_POST
def resume(request: Request, pk: UUID) -> HttpResponse:
    return _act(request, pk, services.resume, _("It goes on."))


@require_POST
def finish(request: Request, pk: UUID) -> HttpResponse:
    rotation = access.workable_rotation(request.user, pk)
    form = VersionForm(request.POST, seen=rotation)
    proof = form.attempt(services.finish, actor=request.user, rotation=rotation)
    if proof is None:
        return show(request, rotation, form)
    if proof.is_clean:
        messages.success(
            request, _("Proven: no core of the area turns with an old key. The rotation is done.")
        )
    else:
        messages.warning(request, _("Not proven: an old key still turns something. The page says where."))
    return redirect("rotations:detail", rotation.pk)


@require_POST
def cancel(request: Request, pk: UUID) -> HttpResponse:
    rotation = access.workable_rotation(request.user, pk)
    form = CancelForm(request.POST, seen=rotation)
    return _done(request, rotation, form, services.cancel, _("Cancelled. The page says what is as it was."))


@require_POST
def empty(request: Request, pk: UUID) -> HttpResponse:
    rotation = access.workable_rotation(request.user, pk)
    form = ServiceForm({})
    found = form.attempt(services.empty_old_pins, actor=request.user, rotation=rotation)
    if found is None:
        return show(request, rotation, form)
    messages.success(
        request,
        _("Emptied in the records: {found}. Take the pins out of these cores now.").format(found=len(found)),
    )
    return redirect("rotations:detail", rotation.pk)


@require_http_methods(["GET", "POST"])
def terms(request: Request, pk: UUID) -> HttpResponse:
    """The crew, the time, and more spare cores; two forms, told apart by their button."""
    rotation = access.workable_rotation(request.user, pk)
    formats = sorted(set(rotation.doors.to_do().values_list("format_id", flat=True)))
    free = {name: len(cores) for name, cores in spares_at(rotation.site, formats).items()}
    sent = request.POST if request.method == "POST" else None
    adds = sent is not None and "add" in sent
    form = TermsForm(None if adds else sent, seen=rotation)
    spares = SparesForm(sent if adds else None, seen=rotation, free=free)
    chosen: ServiceForm = spares if adds else form
    service = services.add_spares if adds else services.set_terms
    kept: Rotation | None = chosen.attempt(service, actor=request.user, rotation=rotation)
    if kept:
        messages.success(request, _("Kept. Have the waves worked out anew by it."))
        return redirect("rotations:detail", rotation.pk)
    facts = {
        "rotation": rotation,
        "form": form,
        "spares": spares,
        "wrong": chosen,
        "has_free": any(free.values()),
    }
    return render(request, "rotations/terms.html", facts, status=UNPROCESSABLE if chosen.errors else 200)


def _act(request: Request, pk: UUID, service: Callable[..., Any], words: str) -> HttpResponse:
    rotation = access.workable_rotation(request.user, pk)
    return _done(request, rotation, VersionForm(request.POST, seen=rotation), service, words)


def _done(
    request: Request, rotation: Rotation, form: ServiceForm, service: Callable[..., Any], words: str
) -> HttpResponse:
    if form.attempt(service, actor=request.user, rotation=rotation) is None:
        return show(request, rotation, form)
    messages.success(request, words)
    return redirect("rotations:detail", rotation.pk)
