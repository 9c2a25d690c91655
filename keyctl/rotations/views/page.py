"""The list of rotations, and the page of one: what comes next, how far it is, who carries two keys."""

from typing import Any
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request, partial
from keyctl.audit.selectors import history_of
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.http import UNPROCESSABLE
from keyctl.orders.access import READERS
from keyctl.places.access import has_role, require_some
from keyctl.places.models import Site
from keyctl.rotations import access, selectors, services
from keyctl.rotations.bothkeys import both_keys
from keyctl.rotations.crews import Crew
from keyctl.rotations.forms import CancelForm
from keyctl.rotations.models import Rotation
from keyctl.rotations.services.locking import State
from keyctl.rotations.steps import next_step

PER_PAGE = 50
EVENTS_SHOWN = 40
STILL_SHOWN = 50


@require_GET
def index(request: Request) -> HttpResponse:
    require_some(Site.objects.for_roles(request.user, *READERS))
    page = Paginator(selectors.rotations_by_state(request.user), PER_PAGE).get_page(request.GET.get("page"))
    may_start = access.working_sites(request.user).exists()
    return render(request, "rotations/list.html", {"page": page, "may_start": may_start})


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    rotation = access.readable_rotation(request.user, pk)
    return render(request, partial(request, "rotations/detail.html", "progress"), facts_of(request, rotation))


def show(request: Request, rotation: Rotation, form: ServiceForm) -> HttpResponse:
    """Again, with what was refused: the rotation as it is now, which may be why."""
    rotation = access.readable_rotation(request.user, rotation.pk)
    facts = facts_of(request, rotation) | {"form": form}
    if isinstance(form, CancelForm):
        facts["cancel_form"] = form
    return render(request, "rotations/detail.html", facts, status=UNPROCESSABLE)


def facts_of(request: Request, rotation: Rotation) -> dict[str, Any]:
    progress, job = selectors.progress_of(rotation), services.running_plan(rotation)
    is_smith = has_role(request.user, rotation.site, *access.WORKERS)
    tried = not progress.to_do and rotation.state != State.PLANNED
    proof = services.prove(rotation) if tried and rotation.is_running else None
    return {
        "rotation": rotation,
        "progress": progress,
        "job": job,
        "step": next_step(rotation, progress, job),
        "both": both_keys(rotation, progress),
        "crew": Crew.of(rotation),
        "works": is_smith and rotation.is_running,
        "proof": proof,
        "old_pins": 0 if rotation.is_running or not is_smith else services.with_old_pins(rotation).count(),
        "still": proof.still_turned[:STILL_SHOWN] if proof else (),
        "is_live": bool(job) or rotation.state == State.WORKING,
        "version_form": VersionForm(seen=rotation),
        "cancel_form": CancelForm(seen=rotation),
        "events": history_of(rotation)[:EVENTS_SHOWN],
    }
