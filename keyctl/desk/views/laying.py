"""What is scanned, chosen, taken off and noted at the counter; each answers with the list."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from keyctl.accounts.http import Request
from keyctl.approvals.models import KeyRequest
from keyctl.desk import access, services
from keyctl.desk.models import TrayLine
from keyctl.desk.views.answering import PAGES, Place, Way, attempt, place_of
from keyctl.keys.models import Cabinet, Holder, KeyCopy, Person
from keyctl.lib.errors import Refused
from keyctl.lib.identifiers import read_uuid


@require_POST
def add(request: Request, pk: UUID) -> HttpResponse:
    """A scan. Nothing typed means that the list is whole: on to the signature."""
    place = place_of(request, pk)
    text = request.POST.get("text", "").strip()
    if not text:
        return redirect(f"{reverse(PAGES[place.way], args=[pk])}?sign=1#sign")
    return attempt(place, services.scan, text=text, **place.facts)


@require_POST
def taker(request: Request, pk: UUID) -> HttpResponse:
    """One of several people who answer to what was typed."""
    place = place_of(request, pk)
    if wanted := request.POST.get("holder"):
        chosen: Holder | Person = get_object_or_404(Holder, pk=read_uuid(wanted), site=place.site)
    else:
        chosen = get_object_or_404(Person, pk=read_uuid(request.POST.get("person")), is_active=True)
    return attempt(place, services.choose_taker, taker=chosen, **place.facts)


@require_POST
def ready(request: Request, pk: UUID) -> HttpResponse:
    """All keys of a request that is ready to collect."""
    place = Place(request, access.desk_site(request.user, pk), Way.OUT)
    requests = KeyRequest.objects.filter(building__site=place.site)
    wanted = get_object_or_404(requests, pk=read_uuid(request.POST.get("request")))
    return attempt(place, services.lay_ready, actor=request.user, site=place.site, request=wanted)


@require_POST
def found(request: Request, pk: UUID) -> HttpResponse:
    place = Place(request, access.desk_site(request.user, pk), Way.OUT)
    copy = get_object_or_404(KeyCopy, pk=read_uuid(request.POST.get("copy")), site=place.site)
    cabinet = get_object_or_404(Cabinet, pk=read_uuid(request.POST.get("cabinet")), site=place.site)
    facts = {"actor": request.user, "site": place.site, "copy": copy, "cabinet": cabinet}
    return attempt(place, services.take_found_key, **facts)


@require_POST
def undo(request: Request, pk: UUID) -> HttpResponse:
    place = place_of(request, pk)
    return attempt(place, services.undo_last, **place.facts)


@require_POST
def clear(request: Request, pk: UUID) -> HttpResponse:
    place = place_of(request, pk)
    return attempt(place, services.clear_tray, **place.facts)


@require_POST
def leave_out(request: Request, pk: UUID) -> HttpResponse:
    line = access.own_line(request.user, pk)
    place = Place(request, line.tray.site, Way(line.tray.way))
    return attempt(place, services.leave_out, actor=request.user, line=line)


@require_POST
def condition(request: Request, pk: UUID) -> HttpResponse:
    """What a key is like that comes back: kept, with no answer but that."""
    line = access.own_line(request.user, pk)
    wanted = request.POST.get("condition", "")
    if wanted not in TrayLine.Condition.values:
        raise Refused(_("A key is sound, worn, bent or broken. Choose one of these."))
    services.note_condition(actor=request.user, line=line, condition=wanted)
    if request.htmx:
        return HttpResponse(status=204)
    return redirect(PAGES[Way(line.tray.way)], line.tray.site_id)
