"""The page where security officers let programs read pins for a while."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from keyctl.accounts.fresh import fresh_sign_in
from keyctl.accounts.http import Request
from keyctl.api import windows
from keyctl.api.forms import WindowForm
from keyctl.lib.http import UNPROCESSABLE


@require_GET
def tokens_for_pins(request: Request) -> HttpResponse:
    return render(request, "api/windows.html", {"tokens": windows.tokens_for_pins(request.user)})


@require_http_methods(["GET", "POST"])
def open_for_pins(request: Request, pk: UUID) -> HttpResponse:
    token = windows.token_for_pins(request.user, pk)
    form = WindowForm(request.POST or None)
    if request.method == "POST":
        facts = {"actor": request.user, "token": token, "sign_in": fresh_sign_in(request)}
        if made := form.attempt(windows.open_window, **facts):
            until = timezone.localtime(made.until)
            messages.success(
                request, _("{token} may read pins until {time}.").format(token=token, time=f"{until:%H:%M}")
            )
            return redirect("api:windows")
    context = {"token": token, "form": form}
    return render(request, "api/open_window.html", context, status=UNPROCESSABLE if form.errors else 200)


@require_POST
def close_for_pins(request: Request, pk: UUID) -> HttpResponse:
    token = windows.token_for_pins(request.user, pk)
    windows.close_window(actor=request.user, token=token)
    messages.success(request, _("{token} reads no more pins.").format(token=token))
    return redirect("api:windows")
