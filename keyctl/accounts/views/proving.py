"""Proving once more who one is, for what asks for a fresh sign-in; and back to the page that asked."""

import json

from allauth.account.internal.flows.reauthentication import reauthenticate_by_password
from allauth.core.ratelimit import consume_or_429
from allauth.mfa.models import Authenticator
from allauth.mfa.webauthn.internal.auth import begin_authentication
from allauth.socialaccount.models import SocialAccount
from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from keyctl.accounts.forms import CodeForm, ProvePasskeyForm, ProvePasswordForm
from keyctl.accounts.http import Request
from keyctl.accounts.models import User
from keyctl.accounts.returning import safe_next
from keyctl.accounts.views.limits import is_limited, limited
from keyctl.lib.http import UNPROCESSABLE
from keyctl.lib.oidc import name_of_provider


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def prove(request: Request) -> HttpResponseBase:
    if too_many := consume_or_429(request, action="reauthenticate", user=request.user):
        return too_many
    if request.method == "GET":
        return _page(request)
    form = _sent(request)
    if form.is_valid():
        if isinstance(form, ProvePasswordForm):
            reauthenticate_by_password(request)
        else:
            form.save()
        return _back(request)
    return limited(request) if is_limited(form) else _page(request, form)


def _sent(request: Request) -> ProvePasswordForm | CodeForm | ProvePasskeyForm:
    if "credential" in request.POST:
        return ProvePasskeyForm(user=request.user, data=request.POST)
    if "code" in request.POST:
        return CodeForm(user=request.user, data=request.POST)
    return ProvePasswordForm(request.user, request.POST)


def _back(request: Request) -> HttpResponseBase:
    """With a new key of the session: who proved less has the old one at most."""
    request.session.cycle_key()
    messages.success(
        request, _("You have proven who you are. Now press once more; it holds for five minutes.")
    )
    return redirect(safe_next(request) or "home")


def _page(request: Request, sent: Form | None = None) -> HttpResponse:
    user = request.user
    kinds = set(Authenticator.objects.filter(user_id=user.pk).values_list("type", flat=True))
    has_codes = kinds & {Authenticator.Type.TOTP, Authenticator.Type.RECOVERY_CODES}
    facts = {
        "form": sent,
        "next": safe_next(request),
        "by_password": _or(sent, ProvePasswordForm(user)) if user.has_usable_password() else None,
        "by_code": _or(sent, CodeForm(user=user)) if has_codes else None,
        "by_provider": _provider_of(user),
        "options": json.dumps(begin_authentication(user)) if Authenticator.Type.WEBAUTHN in kinds else None,
    }
    return render(request, "accounts/prove.html", facts, status=UNPROCESSABLE if sent else 200)


def _provider_of(user: User) -> str:
    """Whoever signs in there can prove themselves there."""
    return name_of_provider() if SocialAccount.objects.filter(user_id=user.pk).exists() else ""


def _or(sent: Form | None, empty: Form) -> Form:
    return sent if sent is not None and type(sent) is type(empty) else empty
