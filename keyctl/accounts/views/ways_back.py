"""Setting a password by a code for one use: at the first sign-in, or to come back in."""

from allauth.core.ratelimit import consume_or_429
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from keyctl.accounts.agents import address_of
from keyctl.accounts.forms import WayBackForm
from keyctl.accounts.http import Request
from keyctl.accounts.services import note_failure, take_way_back
from keyctl.lib.http import UNPROCESSABLE


@login_not_required
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def way_back(request: Request) -> HttpResponseBase:
    if too_many := consume_or_429(request, action="way_back"):
        return too_many
    form = WayBackForm(request.POST or None)
    if form.is_valid():
        take_way_back(way=form.way, new_password=form.cleaned_data["new_password"])
        messages.success(request, _("You have a new password. Sign in with it."))
        return redirect("accounts:sign-in")
    if form.is_bound:
        note_failure(address=address_of(request))
    return render(
        request, "accounts/way_back.html", {"form": form}, status=UNPROCESSABLE if form.errors else 200
    )
