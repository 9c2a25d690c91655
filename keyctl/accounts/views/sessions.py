"""Where one is signed in, and ending it there."""

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from keyctl.accounts import services
from keyctl.accounts.forms import OwnSessionForm
from keyctl.accounts.http import Request
from keyctl.accounts.selectors import sessions_of
from keyctl.accounts.sessions import digest_of


@require_GET
def sessions(request: Request) -> HttpResponse:
    facts = {"sessions": sessions_of(request.user), "current": _current(request)}
    return render(request, "accounts/sessions.html", facts)


@require_POST
def end(request: Request) -> HttpResponseBase:
    """One of them; or, where none is named, all others. What has ended meanwhile is as wished."""
    form = OwnSessionForm(request.user, request.POST)
    if "session" not in request.POST:
        ended = services.end_sessions(actor=request.user, user=request.user, but=_current(request))
        says = (
            _("Sessions ended: {ended}.").format(ended=ended)
            if ended
            else _("You were signed in nowhere else.")
        )
        messages.success(request, says)
    elif form.is_valid():
        services.end_session(actor=request.user, session=form.cleaned_data["session"])
        messages.success(request, _("That session has ended."))
    return redirect("accounts:sessions")


def _current(request: Request) -> str:
    return digest_of(str(request.session.session_key))
