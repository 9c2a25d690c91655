"""Addresses that machines ask, without signing in; none tells of a door, a key or a person. And how the
installation is guarded, for those who answer for it."""

import sys
from hmac import compare_digest
from http import HTTPStatus
from ipaddress import ip_address

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template import loader
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_safe
from prometheus_client import CONTENT_TYPE_LATEST

from keyctl.accounts.http import Request
from keyctl.lib.http import problem
from keyctl.lib.numbering import number_of_request
from keyctl.lib.storage import tell, trouble_in
from keyctl.operations import contact as contacts
from keyctl.operations import metrics
from keyctl.operations.archive.access import keeps_estate
from keyctl.operations.estate.page import state_of_data
from keyctl.operations.posture import access
from keyctl.operations.posture.rows import rows
from keyctl.operations.readiness import probes

# Programs read no pages, whatever they say that they accept.
FOR_PROGRAMS = "/api/v1/"
BROKE = gettext_lazy(
    "The act may not have been kept: read before you do it again, or send it again with its "
    "Idempotency-Key. Whoever runs keyctl finds the cause in the server's log"
)


@login_not_required
@require_safe
def live(_request: HttpRequest) -> HttpResponse:
    """The process answers; it asks nothing else, so that a slow database does not get it restarted."""
    return HttpResponse("alive\n", content_type="text/plain; charset=utf-8")


@login_not_required
@require_safe
def ready(_request: HttpRequest) -> JsonResponse:
    found = probes()
    is_ready = all(probe.is_good for probe in found if probe.is_needed)
    told = {"ready": is_ready, "probes": {probe.name: probe.words for probe in found}}
    return JsonResponse(told, status=200 if is_ready else 503)


@login_not_required
@require_safe
def figures(request: HttpRequest) -> HttpResponse:
    if not _may_look(request):
        raise Http404
    return HttpResponse(metrics.text(), content_type=CONTENT_TYPE_LATEST)


@login_not_required
@require_safe
def contact(_request: HttpRequest) -> HttpResponse:
    if not (text := contacts.text()):
        raise Http404
    return HttpResponse(text, content_type="text/plain; charset=utf-8")


@require_GET
def security(request: Request) -> HttpResponse:
    access.require_reader(request.user)
    context = {"rows": rows(request.user), "without_factor": access.without_factor(request.user)}
    return render(request, "operations/security.html", context)


@require_GET
def data(request: Request) -> HttpResponse:
    access.require_reader(request.user)
    facts = {"state": state_of_data(request.user), "keeps_estate": keeps_estate(request.user)}
    return render(request, "operations/data.html", facts)


def _may_look(request: HttpRequest) -> bool:
    """With the token; without one set, from this machine only, and not through a proxy on it."""
    if settings.METRICS_TOKEN:
        given = request.headers.get("Authorization", "")
        return compare_digest(given.encode(), f"Bearer {settings.METRICS_TOKEN}".encode())
    return not settings.BEHIND_PROXY and ip_address(request.META["REMOTE_ADDR"]).is_loopback


def server_error(request: HttpRequest) -> HttpResponse:
    """Nothing is asked of the request: what fills the frame of a page may be what broke."""
    if trouble := trouble_in(sys.exception()):
        return tell(request, trouble)
    number = number_of_request()
    if request.path.startswith(FOR_PROGRAMS):
        words = (
            _("{broke} under the number {number}.").format(broke=BROKE, number=number)
            if number
            else _("{broke}, at this time of day.").format(broke=BROKE)
        )
        return problem(HTTPStatus.INTERNAL_SERVER_ERROR, words, title=_("Something broke on our side"))
    page = loader.get_template("500.html").render({"request_number": number})
    return HttpResponse(page, status=500)
