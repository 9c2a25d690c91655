"""Sign-in, sign-out and one's own page."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import urlencode
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import HttpResponseClientRedirect

from keyctl.accounts.forms import PasswordForm
from keyctl.accounts.http import Request
from keyctl.accounts.services import change_password
from keyctl.lib.http import UNPROCESSABLE

_sign_in = LoginView.as_view(redirect_authenticated_user=True)
sign_out = LogoutView.as_view()


@login_not_required
@sensitive_post_parameters("password")
def sign_in(request: Request) -> HttpResponseBase:
    """Whoever was signed out meanwhile gets the whole page, not a form inside the piece they asked for."""
    if request.htmx:
        here = urlencode({"next": request.htmx.current_url_abs_path or "/"})
        return HttpResponseClientRedirect(f"{resolve_url('accounts:sign-in')}?{here}")
    return _sign_in(request)


@require_GET
def me(request: Request) -> HttpResponse:
    return render(request, "accounts/me.html", {"form": PasswordForm(request.user)})


@sensitive_post_parameters()
@require_POST
def password(request: Request) -> HttpResponse:
    form = PasswordForm(request.user, request.POST)
    if not form.is_valid():
        return render(request, "accounts/me.html", {"form": form}, status=UNPROCESSABLE)
    change_password(actor=request.user, new_password=form.cleaned_data["new_password1"])
    update_session_auth_hash(request, request.user)
    messages.success(
        request, "Your password is changed. Other places where you were signed in are signed out."
    )
    return redirect("accounts:me")
