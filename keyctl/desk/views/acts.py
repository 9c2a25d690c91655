"""An act that was written: what it was, who signed, the mail that went out."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.desk import access
from keyctl.keys.access import reads_keys
from keyctl.keys.models import Deposit


@require_GET
def act(request: Request, pk: UUID) -> HttpResponse:
    found = access.readable_act(request.user, pk)
    facts = {
        "act": found,
        "out": found.lines_out.select_related("copy__symbol", "holder"),
        "back": found.lines_back.select_related("copy__symbol", "holder"),
        "deposit": Deposit.objects.filter(handover=found).first(),
        # Which key a copy is, staff may know; who holds it needs only the serial.
        "shows_symbols": reads_keys(request.user, found.site),
    }
    return render(request, "desk/act.html", facts)
