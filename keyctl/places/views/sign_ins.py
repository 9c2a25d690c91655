"""How people of one's sites sign in; for administrators."""

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.accounts.models import User
from keyctl.places import sign_ins as services
from keyctl.places.access import require_administrator
from keyctl.places.writing import PersonChoice


@require_GET
def index(request: Request) -> HttpResponse:
    require_administrator(request.user)
    return render(request, "places/sign_ins.html", {"sign_ins": services.sign_ins_kept_by(request.user)})


@require_POST
def reset_factors(request: Request) -> HttpResponseBase:
    """Whoever resets a factor could be a thief at an open screen: they prove who they are."""
    user = _chosen(request)
    fresh_sign_in(request)
    services.reset_factors_of(actor=request.user, user=user)
    messages.success(
        request, _("{user} has no second factor now, and is signed out everywhere.").format(user=user)
    )
    return redirect("places:sign-ins")


@require_POST
def end_sessions(request: Request) -> HttpResponseBase:
    user = _chosen(request)
    ended = services.end_sessions_of(actor=request.user, user=user)
    messages.success(request, _("Sessions of {user} ended: {ended}.").format(user=user, ended=ended))
    return redirect("places:sign-ins")


def _chosen(request: Request) -> User:
    require_administrator(request.user)
    form = PersonChoice(request.POST)
    person = form.cleaned_data["person"] if form.is_valid() else None
    return get_object_or_404(services.people_kept_by(request.user), pk=person)
