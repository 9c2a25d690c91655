"""How full a key system is."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.systems.access import designs_for, readable_system
from keyctl.systems.capacity import level_uses, pace_of
from keyctl.systems.plotting import plot_capacity


@require_GET
def capacity(request: Request, pk: UUID) -> HttpResponse:
    system = readable_system(request.user, pk)
    today = timezone.localdate()
    pace = pace_of(system, today)
    context = {
        "system": system,
        "levels": level_uses(system),
        "pace": pace,
        "plot": plot_capacity(pace, today),
        "can_extend": designs_for(request.user, system),
    }
    return render(request, "systems/capacity.html", context)
