"""Due days in one's own calendar, and the address that a calendar reads."""

import hashlib
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.desk import access, services
from keyctl.desk.calendar import calendar_of, sites_with
from keyctl.desk.calendar.feeding import OF_SITE
from keyctl.desk.models import CalendarFeed
from keyctl.desk.services.feeds import feed_of
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.lib.identifiers import read_uuid
from keyctl.places.models import Site

# Calendars ask often, whatever they are told; an answer holds for an hour.
HOLDS_FOR = 3600


@never_cache
@require_http_methods(["GET", "POST"])
def feeds(request: Request) -> HttpResponse:
    """One's own addresses. A new one is told in this answer and never again."""
    if request.method != "POST":
        return _page(request)
    shows, site = request.POST.get("shows", ""), _site(request)
    try:
        return _page(request, services.make_feed(actor=request.user, shows=shows, site=site)[1])
    except Refused as refusal:
        return _page(request, trouble=refusal.message)


@never_cache
@require_POST
def renew_feed(request: Request, pk: UUID) -> HttpResponse:
    """Another address in the place of one that somebody else may have read."""
    found = access.own_feed(request.user, pk)
    return _page(request, services.renew_feed(actor=request.user, feed=found)[1])


def _page(request: Request, secret: str = "", trouble: str = "") -> HttpResponse:
    shows = CalendarFeed.Shows
    facts = {
        "feeds": CalendarFeed.objects.alive().filter(user=request.user).select_related("site"),
        "own": [shows.OWN_KEYS, shows.OWN_ORDERS],
        "at_sites": [(kind, sites) for kind in OF_SITE if (sites := sites_with(request.user, kind))],
        "address": f"{settings.BASE_URL}{reverse('desk:feed', args=[secret])}" if secret else "",
        "trouble": trouble,
    }
    return render(request, "desk/feeds.html", facts, status=UNPROCESSABLE if trouble else 200)


def _site(request: Request) -> Site | None:
    """The site whose due days are wanted; none for one's own."""
    wanted = request.POST.get("site")
    return get_object_or_404(Site, pk=read_uuid(wanted)) if wanted else None


@require_POST
def end_feed(request: Request, pk: UUID) -> HttpResponse:
    services.end_feed(actor=request.user, feed=access.own_feed(request.user, pk))
    messages.success(request, _("The address is dead: calendars that read it get nothing any more."))
    return redirect("desk:feeds")


@login_not_required
@require_GET
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    """What a calendar reads: it cannot sign in, so the secret in the address stands for its person."""
    found = feed_of(secret)
    if found is None:
        raise Http404
    text = calendar_of(found)
    etag = quote_etag(hashlib.sha256(text).hexdigest())
    response = get_conditional_response(request, etag=etag) or HttpResponse(
        text, content_type="text/calendar; charset=utf-8"
    )
    response["ETag"] = etag
    response["Cache-Control"] = f"private, max-age={HOLDS_FOR}"
    response["Content-Disposition"] = 'inline; filename="due-days.ics"'
    response["X-Robots-Tag"] = "noindex"
    response["Referrer-Policy"] = "no-referrer"
    return response
