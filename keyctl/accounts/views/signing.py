"""Signing in by a password, then by a second factor; signing out."""

import json

from allauth.account.internal.decorators import login_stage_required
from allauth.account.internal.flows.login import perform_password_login
from allauth.account.models import Login
from allauth.core.ratelimit import consume_or_429
from allauth.mfa.stages import AuthenticateStage
from allauth.mfa.webauthn.forms import AuthenticateWebAuthnForm, LoginWebAuthnForm
from allauth.mfa.webauthn.internal.auth import begin_authentication
from allauth.mfa.webauthn.internal.flows import perform_passwordless_login
from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django_htmx.http import HttpResponseClientRedirect

from keyctl.accounts.agents import address_of
from keyctl.accounts.forms import SecondCodeForm, SignInForm
from keyctl.accounts.http import Request
from keyctl.accounts.middleware import ENDED
from keyctl.accounts.returning import safe_next
from keyctl.accounts.services import note_failure
from keyctl.accounts.views.limits import is_limited, limited
from keyctl.lib.oidc import name_of_provider


@login_not_required
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def sign_in(request: Request) -> HttpResponseBase:
    """Whoever was signed out meanwhile gets the whole page, not a form inside the piece they asked for."""
    if request.htmx:
        here = urlencode({"next": request.htmx.current_url_abs_path or "/"})
        return HttpResponseClientRedirect(f"{resolve_url('accounts:sign-in')}?{here}")
    if request.user.is_authenticated:
        return redirect(safe_next(request) or "home")
    if too_many := consume_or_429(request, action="login"):
        return too_many
    form = SignInForm(request, request.POST or None)
    if form.is_valid():
        login = Login(user=form.user, redirect_url=safe_next(request) or None)
        return perform_password_login(request, form.cleaned_data, login)
    return limited(request) if is_limited(form) else _sign_in_page(request, form)


@login_not_required
@require_GET
def passkey_options(request: HttpRequest) -> HttpResponseBase:
    """What a browser shows its passkeys for. It names nobody: the passkey says whose it is."""
    return JsonResponse(dict(begin_authentication()))


@login_not_required
@require_POST
def sign_in_by_passkey(request: Request) -> HttpResponseBase:
    """A passkey is held and unlocked, so it is both factors at once."""
    if too_many := consume_or_429(request, action="login"):
        return too_many
    form = LoginWebAuthnForm(data=request.POST)
    if not form.is_valid() or not form.cleaned_data["credential"].user.is_active:
        note_failure(address=address_of(request))
        messages.error(request, _("The passkey was not taken. Sign in another way."))
        return redirect("accounts:sign-in")
    passkey = form.cleaned_data["credential"]
    login = Login(user=passkey.user, redirect_url=safe_next(request) or None)
    return perform_passwordless_login(request, passkey, login)


def _sign_in_page(request: Request, form: SignInForm) -> HttpResponse:
    facts = {
        "form": form,
        "next": safe_next(request),
        "was_idle": request.session.pop(ENDED, False),
        "provider": name_of_provider(),
    }
    return render(request, "accounts/sign_in.html", facts)


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
@login_stage_required(stage=AuthenticateStage.key, redirect_urlname="accounts:sign-in")
def second_factor(request: HttpRequest) -> HttpResponseBase:
    stage = request._login_stage  # type: ignore[attr-defined]
    user = stage.login.user
    is_passkey = "credential" in request.POST
    form = _second_form(request, user, is_passkey=is_passkey)
    if form.is_valid():
        form.save()
        return stage.exit()
    if is_limited(form):
        return limited(request)
    facts = {
        "form": SecondCodeForm(user=user) if is_passkey else form,
        "passkey_form": form if is_passkey else None,
        "options": json.dumps(begin_authentication(user)),
    }
    return render(request, "accounts/second_factor.html", facts)


def _second_form(
    request: HttpRequest, user: object, *, is_passkey: bool
) -> SecondCodeForm | AuthenticateWebAuthnForm:
    data = request.POST or None
    return (
        AuthenticateWebAuthnForm(user=user, data=data) if is_passkey else SecondCodeForm(user=user, data=data)
    )


@login_not_required
@require_POST
def sign_out(request: HttpRequest) -> HttpResponseBase:
    """Pages go from the browser's cache. What a tablet has not sent yet stays, and so does its own proof."""
    logout(request)
    answer = redirect("accounts:sign-in")
    answer["Clear-Site-Data"] = '"cache"'
    return answer
