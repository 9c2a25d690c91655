"""One's own page, one's password, and how pages speak to one."""

from allauth.core.ratelimit import consume_or_429
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.db.models import prefetch_related_objects
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.forms import PasswordForm, SpeakingForm
from keyctl.accounts.http import Request
from keyctl.accounts.services import change_password, choose_speech
from keyctl.accounts.sessions import digest_of
from keyctl.accounts.speaking import speaking_to
from keyctl.lib.http import UNPROCESSABLE


@require_GET
def me(request: Request) -> HttpResponse:
    return _page(request, form=PasswordForm(request.user))


@sensitive_post_parameters()
@require_POST
def password(request: Request) -> HttpResponse:
    if too_many := consume_or_429(request, action="change_password", user=request.user):
        return too_many
    form = PasswordForm(request.user, request.POST)
    if not form.is_valid():
        return _page(request, form=form, status=UNPROCESSABLE)
    change_password(
        actor=request.user,
        new_password=form.cleaned_data["new_password1"],
        session=digest_of(str(request.session.session_key)),
    )
    update_session_auth_hash(request, request.user)
    messages.success(
        request, _("Your password is changed. Other places where you were signed in are signed out.")
    )
    return redirect("accounts:me")


@require_POST
def speak(request: Request) -> HttpResponse:
    form = SpeakingForm(request.POST)
    if not form.is_valid():
        return _page(request, form=PasswordForm(request.user), speaking=form, status=UNPROCESSABLE)
    choose_speech(actor=request.user, **form.cleaned_data)
    # Said in the language that was just chosen.
    with speaking_to(request.user):
        messages.success(request, _("From now on pages speak to you like this."))
    return redirect("accounts:me")


def _page(
    request: Request, *, form: PasswordForm, speaking: SpeakingForm | None = None, status: int = 200
) -> HttpResponse:
    user = request.user
    prefetch_related_objects([user], "memberships__site")
    chosen = {"language": user.language, "dates": user.dates, "units": user.units}
    facts = {"form": form, "speaking": speaking or SpeakingForm(initial=chosen)}
    return render(request, "accounts/me.html", facts, status=status)
