"""The doors and the cores of a rotation, each with what can be done to it."""

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from keyctl.accounts.http import Request
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import has_role
from keyctl.rotations import access, selectors, services
from keyctl.rotations.forms import BackForm, ReasonForm
from keyctl.rotations.models import Rotation, RotationCore, RotationDoor

PER_PAGE = 50


@require_GET
def doors(request: Request, pk: UUID) -> HttpResponse:
    rotation = access.readable_rotation(request.user, pk)
    asked = {name: request.GET.get(name, "") for name in ("state", "wave", "q")}
    found = selectors.doors_of(rotation, state=asked["state"], wave=asked["wave"], text=asked["q"])
    query = request.GET.copy()
    query.pop("page", None)
    facts = {
        "rotation": rotation,
        "page": Paginator(found, PER_PAGE).get_page(request.GET.get("page")),
        "states": RotationDoor.State.choices,
        "waves": rotation.waves.order_by("ordinal"),
        "asked": asked,
        "query": query.urlencode(),
        "works": _works(request, rotation),
    }
    return render(request, "rotations/doors.html", facts)


@require_http_methods(["GET", "POST"])
def door(request: Request, pk: UUID) -> HttpResponse:
    """Not reached, or left out for good: the same reason field, two buttons."""
    found = access.workable_door(request.user, pk)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        leaves_out = "leave-out" in request.POST
        service = services.leave_out if leaves_out else services.unreached
        if form.attempt(service, actor=request.user, door=found):
            done = _("{door} keeps its old keys.") if leaves_out else _("{door} is noted as not reached.")
            messages.success(request, done.format(door=found))
            return redirect("rotations:detail", found.rotation.pk)
    facts = {
        "door": found,
        "rotation": found.rotation,
        "form": form,
        "line": selectors.open_line_of(found),
        "is_to_do": found.state in RotationDoor.TO_DO and found.rotation.is_running,
    }
    return render(request, "rotations/door.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_http_methods(["GET", "POST"])
def cores(request: Request, pk: UUID) -> HttpResponse:
    """Where each core is; those that came out are brought back here, scanned or ticked."""
    works = request.method == "POST"
    rotation = (access.workable_rotation if works else access.readable_rotation)(request.user, pk)
    form = BackForm(request.POST if works else None)
    if (
        works
        and (back := form.attempt(services.bring_back, actor=request.user, rotation=rotation)) is not None
    ):
        messages.success(request, _("Back at the bench: {back}.").format(back=len(back)))
        return redirect("rotations:cores", rotation.pk)
    state = request.GET.get("state", "")
    listed = selectors.cores_of(rotation, state=state)
    facts = {
        "rotation": rotation,
        "page": Paginator(listed, PER_PAGE).get_page(request.GET.get("page")),
        "coming": selectors.cores_of(rotation, state=RotationCore.State.COMING_BACK)[:PER_PAGE],
        "states": RotationCore.State.choices,
        "state": state,
        "query": f"state={state}" if state in RotationCore.State.values else "",
        "form": form,
        "works": _works(request, rotation),
    }
    return render(request, "rotations/cores.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_http_methods(["GET", "POST"])
def core(request: Request, pk: UUID) -> HttpResponse:
    """Broken or missing, or in use again."""
    found = access.workable_core(request.user, pk)
    is_broken = found.state == RotationCore.State.BROKEN
    form = ReasonForm(request.POST or None)
    if is_broken and request.method == "POST":
        services.use_core_again(actor=request.user, core=found)
        return redirect("rotations:cores", found.rotation.pk)
    if request.method == "POST":
        given_up = form.attempt(services.give_up_core, actor=request.user, core=found)
        if given_up is None:
            return _core_page(request, found, form)
        messages.success(request, _("Core {found} goes round no more.").format(found=found))
        return redirect("rotations:detail", found.rotation.pk)
    return _core_page(request, found, form)


def _core_page(request: Request, found: RotationCore, form: ReasonForm) -> HttpResponse:
    facts = {
        "found": found,
        "rotation": found.rotation,
        "form": form,
        "is_broken": found.state == RotationCore.State.BROKEN,
        "meant": found.rotation.doors.to_do().filter(meant=found.core).with_places().first(),
    }
    return render(request, "rotations/core.html", facts, status=UNPROCESSABLE if form.errors else 200)


def _works(request: Request, rotation: Rotation) -> bool:
    return rotation.is_running and has_role(request.user, rotation.site, *access.WORKERS)
