"""Webhooks for administrators: what listens where, its log, and what may be done about it."""

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import administered_sites, require_administrator
from keyctl.webhooks import access, selectors, services
from keyctl.webhooks.forms import EndpointForm, HostForm
from keyctl.webhooks.models import Endpoint

DELIVERIES_ON_A_PAGE = 25


@require_http_methods(["GET", "POST"])
def webhook_list(request: Request) -> HttpResponse:
    """The endpoints, and the hosts that may be spoken to; another host by POST."""
    require_administrator(request.user)
    form = HostForm(request.POST or None, sites=administered_sites(request.user))
    if request.method == "POST" and (host := form.attempt(services.allow_host, actor=request.user)):
        messages.success(
            request, _("keyctl may speak to {host} for {site}.").format(host=host, site=host.site)
        )
        return redirect("webhooks:list")
    facts = {"overview": selectors.overview(request.user), "form": form}
    return render(request, "webhooks/list.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def forget_host(request: Request, pk: UUID) -> HttpResponse:
    host = access.kept_host(request.user, pk)
    services.forget_host(actor=request.user, host=host)
    messages.success(
        request, _("Nothing goes out to {host} for {site} any more.").format(host=host, site=host.site)
    )
    return redirect("webhooks:list")


@require_http_methods(["GET", "POST"])
def new(request: Request) -> HttpResponse:
    require_administrator(request.user)
    form = EndpointForm(request.POST or None, sites=administered_sites(request.user))
    if request.method == "POST" and (made := form.attempt(services.make_endpoint, actor=request.user)):
        return _show_secret(request, *made)
    return render(request, "webhooks/new.html", {"form": form}, status=UNPROCESSABLE if form.errors else 200)


@require_GET
def detail(request: Request, pk: UUID) -> HttpResponse:
    endpoint = access.kept_endpoint(request.user, pk)
    log = selectors.log_of(endpoint, request.GET.get("state", ""))
    context = {
        "endpoint": endpoint,
        "log": log,
        "page": Paginator(log.deliveries, DELIVERIES_ON_A_PAGE).get_page(request.GET.get("page")),
        "query": f"state={log.state}" if log.state else "",
    }
    return render(request, "webhooks/detail.html", context)


@require_http_methods(["GET", "POST"])
def rotate(request: Request, pk: UUID) -> HttpResponse:
    endpoint = access.kept_endpoint(request.user, pk)
    if request.method == "POST":
        secret = services.rotate_secret(actor=request.user, endpoint=endpoint)
        return _show_secret(request, endpoint, secret)
    return render(request, "webhooks/rotate.html", {"endpoint": endpoint})


@require_POST
def turn_on(request: Request, pk: UUID) -> HttpResponse:
    return _acted(
        request, pk, services.turn_on, _("It is on again; what waits goes out within half a minute.")
    )


@require_POST
def turn_off(request: Request, pk: UUID) -> HttpResponse:
    return _acted(request, pk, services.turn_off, _("It is off: it is told of nothing from here on."))


@require_POST
def test(request: Request, pk: UUID) -> HttpResponse:
    return _acted(
        request, pk, services.send_test, _("A test goes out within half a minute; look here again.")
    )


@require_POST
def replay(request: Request, pk: UUID) -> HttpResponse:
    delivery = access.kept_delivery(request.user, pk)
    _attempted(
        request,
        lambda: services.replay(actor=request.user, delivery=delivery),
        _("It goes out again within half a minute, under the same identifier."),
    )
    return redirect("webhooks:detail", delivery.endpoint_id)


def _acted(request: Request, pk: UUID, service: Callable[..., Any], words: str) -> HttpResponse:
    endpoint = access.kept_endpoint(request.user, pk)
    _attempted(request, lambda: service(actor=request.user, endpoint=endpoint), words)
    return redirect("webhooks:detail", pk)


def _attempted(request: Request, act: Callable[[], object], words: str) -> None:
    try:
        act()
    except Refused as refusal:
        messages.error(request, " ".join(refusal.sentences))
    else:
        messages.success(request, words)


def _show_secret(request: Request, endpoint: Endpoint, secret: str) -> HttpResponse:
    """Shown in this answer and nowhere kept but sealed: not in the session, not in an address."""
    return render(request, "webhooks/secret.html", {"endpoint": endpoint, "secret": secret})
