from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.cores.listing import contents_of
from keyctl.cores.selectors import openers_of
from keyctl.places.access import has_role, readable_door
from keyctl.places.beside import links_beside
from keyctl.places.roles import Role
from keyctl.places.selectors import visible_history

EVENTS_SHOWN = 20


@require_GET
def door(request: Request, pk: UUID) -> HttpResponse:
    door = readable_door(request.user, pk)
    openers = openers_of(request.user, door)
    context = {
        "door": door,
        "housings": contents_of(door),
        "openers": openers,
        "has_several_cores": len({opener.core for opener in openers}) > 1,
        "spaces": door.spaces.order_by("floor__level", "number"),
        "may_describe": has_role(request.user, door.site, Role.ADMINISTRATOR, Role.LOCKSMITH),
        "may_swap": has_role(request.user, door.site, Role.LOCKSMITH),
        "beside": links_beside(request.user, door),
        "events": visible_history(request.user, door)[:EVENTS_SHOWN],
    }
    return render(request, "cores/door.html", context)
