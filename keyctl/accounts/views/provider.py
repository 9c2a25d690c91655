"""Signing in by the identity provider that the settings name."""

import logging
import secrets

from allauth.core.ratelimit import consume_or_429
from allauth.socialaccount.adapter import get_adapter
from allauth.socialaccount.providers.base import AuthProcess
from allauth.socialaccount.providers.oauth2.client import OAuth2Error
from allauth.socialaccount.providers.oauth2.views import OAuth2CallbackView
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST
from requests import RequestException

from keyctl.accounts.adapters import NOT_BELIEVED
from keyctl.accounts.provider import MAX_AGE_S, NONCE, HouseAdapter, HouseProvider
from keyctl.accounts.returning import safe_next
from keyctl.lib.oidc import PROVIDER

logger = logging.getLogger("keyctl.accounts")


@login_not_required
@require_POST
def start(request: HttpRequest) -> HttpResponseBase:
    """The page goes on to the provider by itself: a form may be answered by our own host only."""
    if too_many := consume_or_429(request, action="login"):
        return too_many
    provider = _provider(request)
    nonce = secrets.token_urlsafe(24)
    asked = {"nonce": nonce, "max_age": str(MAX_AGE_S)}
    try:
        led = provider.redirect(
            request, AuthProcess.LOGIN, next_url=safe_next(request) or None, auth_params=asked
        )
    except (OAuth2Error, RequestException) as error:
        return _not_reached(request, error)
    request.session[NONCE] = nonce
    answer = render(request, "accounts/to_provider.html", {"provider": provider.name, "address": led.url})
    answer["Refresh"] = f"0; url={led.url}"
    return answer


@login_not_required
@require_GET
def callback(request: HttpRequest) -> HttpResponseBase:
    _provider(request)
    try:
        view = OAuth2CallbackView.adapter_view(HouseAdapter(request, PROVIDER))
        answer: HttpResponseBase = view(request)
    except (OAuth2Error, RequestException) as error:
        return _not_reached(request, error)
    return answer


def _provider(request: HttpRequest) -> HouseProvider:
    if not settings.SOCIALACCOUNT_PROVIDERS:
        raise Http404
    return get_adapter().get_provider(request, PROVIDER)


def _not_reached(request: HttpRequest, error: Exception) -> HttpResponse:
    logger.warning("the identity provider is not reached", extra={"error": type(error).__name__})
    messages.error(request, NOT_BELIEVED)
    return redirect("accounts:sign-in")
