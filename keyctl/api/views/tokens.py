"""The page where administrators make and revoke tokens."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from keyctl.accounts.http import Request
from keyctl.api import selectors
from keyctl.api.access import readable_token
from keyctl.api.forms import TokenForm
from keyctl.api.services import create_token, revoke_token
from keyctl.lib.http import UNPROCESSABLE
from keyctl.places.access import administered_sites, require_administrator


@require_http_methods(["GET", "POST"])
def tokens(request: Request) -> HttpResponse:
    require_administrator(request.user)
    form = TokenForm(request.POST or None, sites=administered_sites(request.user))
    if request.method == "POST" and (made := form.attempt(create_token, actor=request.user)):
        # Shown in this answer and nowhere kept: not in the session, not in a message, not in an address.
        token, credential = made
        return render(request, "api/token_made.html", {"token": token, "credential": credential})
    facts = {"form": form, "tokens": selectors.tokens(request.user)}
    return render(request, "api/tokens.html", facts, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def revoke(request: Request, pk: UUID) -> HttpResponse:
    token = revoke_token(actor=request.user, token=readable_token(request.user, pk))
    messages.success(request, _("The token {token} no longer works.").format(token=token))
    return redirect("api:tokens")
