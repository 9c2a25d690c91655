"""The page of one event with the proof that it is in the signed history, and how the history stands."""

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from keyctl.accounts.http import Request
from keyctl.audit import verifier
from keyctl.audit.checkpoints import ENTRIES, checkpoint_over
from keyctl.audit.models import Event, Link
from keyctl.audit.proofs import prove_entry
from keyctl.lib.errors import Refused
from keyctl.operations.history import access
from keyctl.operations.history.state import public_key, state_of_history
from keyctl.places.access import require_administrator
from keyctl.places.models import Site


@require_GET
def state(request: Request) -> HttpResponse:
    require_administrator(request.user)
    return render(request, "operations/history.html", {"state": state_of_history(), "most": ENTRIES})


@require_GET
def event(request: Request, pk: int) -> HttpResponse:
    found = access.readable_event(request.user, pk)
    return render(request, "operations/event.html", {"event": found, **_place_of(found)})


@require_GET
def proof(request: Request, pk: int) -> HttpResponse:
    found = access.readable_event(request.user, pk)
    link = Link.objects.filter(event=found).first()
    if link is None:
        raise Refused(_("This event is in no entry of the history. Tell whoever runs this installation."))
    answer = HttpResponse(
        json.dumps(prove_entry(link.number), indent=1, ensure_ascii=False), content_type="application/json"
    )
    answer["Content-Disposition"] = f'attachment; filename="proof-{link.number}.json"'
    return answer


@require_GET
def checker(request: Request) -> HttpResponse:
    """The file that checks, for whoever has no copy of it from elsewhere."""
    access.require_staff(request.user)
    answer = HttpResponse(Path(verifier.__file__).read_bytes(), content_type="text/x-python; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="verifier.py"'
    return answer


def _place_of(found: Event) -> dict[str, Any]:
    link = Link.objects.filter(event=found).first()
    facts: dict[str, Any] = {"link": link, "site": None}
    if found.site_id:
        facts["site"] = Site.objects.filter(pk=found.site_id).first()
    if link is None:
        return facts
    try:
        checkpoint = checkpoint_over(link.number)
    except Refused as refusal:
        return facts | {"trouble": " ".join(refusal.sentences)}
    return facts | {
        "hash": bytes(link.hash).hex(),
        "before": bytes(link.before).hex(),
        "checkpoint": checkpoint,
        "signed_at": datetime.fromisoformat(checkpoint["at"]) if checkpoint else None,
        "key": public_key(),
        "most": ENTRIES,
    }
