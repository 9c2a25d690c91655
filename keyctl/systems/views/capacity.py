"""How full a key system is."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.systems.access import designs_for, readable_system
from keyctl.systems.capacity import level_uses, pace_of
from keyctl.systems.fillings import draw_fillings
from keyctl.systems.groups import group_uses, months_of
from keyctl.systems.plotting import plot_capacity

# Of many groups the fullest are told: those that run out first.
GROUPS_LISTED = 60


@require_GET
def capacity(request: Request, pk: UUID) -> HttpResponse:
    system = readable_system(request.user, pk)
    today = timezone.localdate()
    pace = pace_of(system, today)
    groups = group_uses(system, today)
    context = {
        "system": system,
        "levels": level_uses(system),
        "pace": pace,
        "plot": plot_capacity(pace, today),
        "groups": groups[:GROUPS_LISTED],
        "groups_more": max(len(groups) - GROUPS_LISTED, 0),
        "fillings": draw_fillings(groups, months_of(today), today) if groups else None,
        "can_extend": designs_for(request.user, system),
    }
    return render(request, "systems/capacity.html", context)
