"""The counter: one page for each way of working, where scans land on a list that the server keeps."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.http import Request
from keyctl.desk import access, services
from keyctl.desk.forms import AgreedForm
from keyctl.desk.views.answering import PAGES, Answer, Place, Way, page, place_of, refused
from keyctl.keys.models import Handover
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE


@require_GET
def home(request: Request) -> HttpResponse:
    sites = access.desk_sites(request.user)
    if len(sites) == 1:
        return redirect("desk:issue", sites[0].pk)
    return render(request, "desk/home.html", {"sites": sites})


@require_GET
def issue(request: Request, pk: UUID) -> HttpResponse:
    return page(Place(request, access.desk_site(request.user, pk), Way.OUT))


@require_GET
def take_back(request: Request, pk: UUID) -> HttpResponse:
    return page(Place(request, access.desk_site(request.user, pk), Way.BACK))


@require_GET
def transfer(request: Request, pk: UUID) -> HttpResponse:
    return page(Place(request, access.desk_site(request.user, pk), Way.TRANSFER))


@require_POST
def agree(request: Request, pk: UUID) -> HttpResponse:
    """Keeps what stands beside the list, each time it changes; what is half typed waits for the next time."""
    place = place_of(request, pk)
    form = AgreedForm(request.POST, site=place.site)
    if form.is_valid():
        services.agree(**place.facts, **form.chosen)
    return HttpResponse(status=204)


@require_POST
def finish(request: Request, pk: UUID) -> HttpResponse:
    place = place_of(request, pk)
    form = AgreedForm(request.POST, site=place.site)
    if not form.is_valid():
        return page(place, Answer(status=UNPROCESSABLE), form)
    services.agree(**place.facts, **form.chosen)
    sent = {name: form.cleaned_data[name] for name in ("version", "act_key")}
    try:
        acts = services.finish(agreed=form.agreed, **place.facts, **sent)
    except Refused as refusal:
        return page(place, refused(refusal), form)
    return _done(place, acts)


def _done(place: Place, acts: list[Handover]) -> HttpResponse:
    """The same page, empty, for the next one; with what was done above it."""
    address = reverse(PAGES[place.way], args=[place.site.pk])
    if not acts:
        messages.success(place.request, _("The found keys are taken in. The next one, please."))
        return redirect(address)
    for act in acts[1:]:
        messages.success(place.request, _("{act} is written as well.").format(act=act))
    return redirect(f"{address}?done={acts[0].pk}")
