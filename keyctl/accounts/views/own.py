"""One's own page, and one's password."""

from allauth.core.ratelimit import consume_or_429
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.forms import PasswordForm
from keyctl.accounts.http import Request
from keyctl.accounts.services import change_password
from keyctl.accounts.sessions import digest_of
from keyctl.lib.http import UNPROCESSABLE


@require_GET
def me(request: Request) -> HttpResponse:
    return render(request, "accounts/me.html", {"form": PasswordForm(request.user)})


@sensitive_post_parameters()
@require_POST
def password(request: Request) -> HttpResponse:
    if too_many := consume_or_429(request, action="change_password", user=request.user):
        return too_many
    form = PasswordForm(request.user, request.POST)
    if not form.is_valid():
        return render(request, "accounts/me.html", {"form": form}, status=UNPROCESSABLE)
    change_password(
        actor=request.user,
        new_password=form.cleaned_data["new_password1"],
        session=digest_of(str(request.session.session_key)),
    )
    update_session_auth_hash(request, request.user)
    messages.success(
        request, "Your password is changed. Other places where you were signed in are signed out."
    )
    return redirect("accounts:me")
