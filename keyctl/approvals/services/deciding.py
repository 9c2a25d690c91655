"""Deciding a request: one act of one person, who saw what it gives."""

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.proposals import proposals_for
from keyctl.approvals.services.fulfilment import begin
from keyctl.approvals.services.locking import already, locked, tell
from keyctl.lib.errors import Conflict, Refused
from keyctl.systems.models import KeySymbol

NO_LONGER_PROPOSED = (
    "These keys are no longer proposed: the cores behind the doors changed. Look at the proposals again."
)
State = KeyRequest.State


@transaction.atomic
def approve_request(
    *, actor: User, request: KeyRequest, version: int, symbols: Sequence[KeySymbol], note: str = ""
) -> KeyRequest:
    """``symbols`` are the keys of one of the proposals as they are now."""
    request = _locked_for_decision(actor, request, version)
    if not request.holder.is_active:
        raise Refused(f"{request.holder} no longer receives keys. Refuse the request.")
    wanted = set(symbols)
    if not any(wanted == set(each.symbols) for each in proposals_for(request)):
        raise Conflict(NO_LONGER_PROPOSED)
    _decide(actor, request, State.APPROVED, note)
    Grant.objects.bulk_create(
        [
            Grant(request=request, symbol=symbol, is_master=symbol.is_master, approved_by=actor)
            for symbol in wanted
        ]
    )
    names = ", ".join(sorted(symbol.symbol for symbol in wanted))
    sentence = f"approved the request of {request.requester}: {_short(names)} for {request.holder}"
    tell(actor, request, "request.approved", sentence, things=[*wanted], note=note)
    begin(actor, request)
    return request


@transaction.atomic
def refuse_request(*, actor: User, request: KeyRequest, version: int, note: str) -> KeyRequest:
    request = _locked_for_decision(actor, request, version)
    if not note.strip():
        raise Refused("Say why: whoever asked reads the note.")
    _decide(actor, request, State.REFUSED, note)
    tell(actor, request, "request.refused", f"refused the request of {request.requester}", note=note)
    return request


def _locked_for_decision(actor: User, request: KeyRequest, version: int) -> KeyRequest:
    request = locked(request)
    if request.requester_id == actor.pk:
        raise Refused("You asked for this key yourself. Another manager of the building decides it.")
    if request.holder_user_id == actor.pk:
        raise Refused("This key is for you. Another manager of the building decides it.")
    if request.state != State.ASKED or request.version != version:
        raise Conflict(f"{already(request)} Look at the request again; your decision was not taken.")
    return request


def _decide(actor: User, request: KeyRequest, state: KeyRequest.State, note: str) -> None:
    request.state, request.decided_by, request.decided_at = state, actor, timezone.now()
    request.decision_note = note.strip()
    request.version += 1
    request.save(update_fields=["state", "decided_by", "decided_at", "decision_note", "version"])


def _short(names: str) -> str:
    return names if len(names) <= 100 else f"{names[:97]}…"
