"""Pictures over time: keys of a site or a system month by month; where a copy or a core has been."""

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.audit.selectors import history_of
from keyctl.keys.models import Custody
from keyctl.lib.drawing.spans import draw_spans
from keyctl.lib.drawing.steps import Series, draw_steps
from keyctl.maps import access
from keyctl.maps.selectors.copies import story_of_copy
from keyctl.maps.selectors.cores import story_of_core
from keyctl.maps.selectors.movement import lines_of_site, lines_of_system, movement_of
from keyctl.places.selectors import visible_history

EVENTS_SHOWN = 40


@require_GET
def keys_of_site(request: Request, pk: UUID) -> HttpResponse:
    site = access.site_of_keys(request.user, pk)
    return _movement(request, lines_of_site(site), {"thing": site, "back": reverse("keys:desk")})


@require_GET
def keys_of_system(request: Request, pk: UUID) -> HttpResponse:
    system = access.system_of_keys(request.user, pk)
    lines = lines_of_system(request.user, system)
    return _movement(request, lines, {"thing": system, "back": reverse("systems:detail", args=[pk])})


@require_GET
def copy(request: Request, pk: UUID) -> HttpResponse:
    found = access.followed_copy(request.user, pk)
    spans, marks = story_of_copy(found)
    context = {
        "copy": found,
        "spans": spans,
        "marks": marks,
        "line": draw_spans(spans, timezone.now(), marks),
        "name": _("Where copy {copy} has been").format(copy=found),
        "events": history_of(found),
    }
    return render(request, "maps/copy.html", context)


@require_GET
def core(request: Request, pk: UUID) -> HttpResponse:
    found = access.followed_core(request.user, pk)
    spans, marks = story_of_core(request.user, found)
    context = {
        "core": found,
        "spans": spans,
        "marks": marks,
        "line": draw_spans(spans, timezone.now(), marks) if spans else None,
        "name": _("Where core {core} has been").format(core=found),
        "events": visible_history(request.user, found)[:EVENTS_SHOWN],
    }
    return render(request, "maps/core.html", context)


def _movement(request: Request, lines: QuerySet[Custody], facts: dict[str, Any]) -> HttpResponse:
    movement = movement_of(lines, timezone.localdate())
    series = [
        Series("0", _("Issued"), movement.issued),
        Series("1", _("Returned"), movement.returned),
        Series("2", _("Lost"), movement.lost),
    ]
    facts |= {"movement": movement, "chart": draw_steps(series, movement.months)}
    return render(request, "maps/keys.html", facts)
