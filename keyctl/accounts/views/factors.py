"""One's second factors and recovery codes. Whatever changes them wants a fresh sign-in."""

import json

import segno
from allauth.mfa.adapter import get_adapter
from allauth.mfa.totp.internal.auth import generate_totp_secret
from allauth.mfa.webauthn.internal.auth import begin_registration
from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts import sealing, services
from keyctl.accounts.factors import lacks_second_factor, must_have_second_factor
from keyctl.accounts.forms import AppForm, OwnFactorForm, PasskeyForm
from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.accounts.selectors import factors_of
from keyctl.accounts.sessions import digest_of
from keyctl.lib.errors import Refused
from keyctl.lib.http import UNPROCESSABLE

# The secret of an app that is not added yet waits in the session, sealed.
WAITING = "app-secret"


@require_GET
def factors(request: Request) -> HttpResponse:
    facts = {
        "factors": factors_of(request.user),
        "lacks": lacks_second_factor(request.user),
        "must": must_have_second_factor(request.user),
    }
    return render(request, "accounts/factors.html", facts)


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def add_app(request: Request) -> HttpResponseBase:
    fresh_sign_in(request)
    if WAITING not in request.session:
        request.session[WAITING] = sealing.seal(generate_totp_secret())
    secret = sealing.unseal(request.session[WAITING])
    form = AppForm(request.POST or None)
    if request.method == "POST":
        form.attempt(services.add_app, actor=request.user, secret=secret, session=_row(request))
        if not form.errors:
            del request.session[WAITING]
            return _added(request)
    address = get_adapter().build_totp_url(request.user, secret)
    facts = {"form": form, "code": _drawn(address), "secret": _grouped(secret), "address": address}
    return render(request, "accounts/add_app.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_http_methods(["GET", "POST"])
def add_passkey(request: Request) -> HttpResponseBase:
    fresh_sign_in(request)
    form = PasskeyForm(request.user, request.POST or None)
    if request.method == "POST":
        form.attempt(services.add_passkey, actor=request.user, session=_row(request))
        if not form.errors:
            return _added(request)
    options = json.dumps(begin_registration(request.user, passwordless=True))
    facts = {"form": form, "options": options}
    return render(request, "accounts/add_passkey.html", facts, status=UNPROCESSABLE if form.errors else 200)


def _added(request: Request) -> HttpResponseBase:
    """The session gets a new key, for more is proven by it now. Without recovery codes those come next."""
    request.session.cycle_key()
    messages.success(request, _("The second factor is added. Elsewhere you are signed out."))
    has_codes = factors_of(request.user).codes_left
    return redirect("accounts:factors" if has_codes else "accounts:recovery-codes")


@require_POST
def remove(request: Request) -> HttpResponseBase:
    fresh_sign_in(request)
    form = OwnFactorForm(request.user, request.POST)
    if not form.is_valid():
        raise Refused(_("This factor is not there any more. Look at the list again."))
    services.remove_factor(actor=request.user, factor=form.cleaned_data["factor"])
    messages.success(request, _("The second factor is taken away."))
    return redirect("accounts:factors")


@require_http_methods(["GET", "POST"])
def recovery_codes(request: Request) -> HttpResponseBase:
    """They stand on this one answer and nowhere else."""
    fresh_sign_in(request)
    made = services.make_recovery_codes(actor=request.user) if request.method == "POST" else []
    facts = {"codes": [_grouped(code) for code in made], "factors": factors_of(request.user)}
    return render(request, "accounts/recovery_codes.html", facts)


def _row(request: Request) -> str:
    return digest_of(str(request.session.session_key))


def _drawn(address: str) -> str:
    """A code that a phone reads, dark on light whatever the appearance."""
    return segno.make_qr(address, error="m").svg_data_uri(scale=4, border=4, dark="#000", light="#fff")


def _grouped(text: str) -> str:
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))
