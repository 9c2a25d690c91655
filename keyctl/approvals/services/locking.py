"""What every act on a request shares: the request held and read anew, who was first, and its history."""

from collections.abc import Sequence

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.audit.services import record
from keyctl.keys.models import KeyCopy
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol

State = KeyRequest.State


def locked(request: KeyRequest) -> KeyRequest:
    """The request as it is now, until the end of the transaction."""
    # Lock first, read after: who waited for the lock would get the joined decider of before the wait.
    KeyRequest.objects.select_for_update().get(pk=request.pk)
    return KeyRequest.objects.select_related(
        "building__site", "holder__site", "holder_user", "requester", "decided_by"
    ).get(pk=request.pk)


def already(request: KeyRequest) -> str:
    """Who was first, in a sentence."""
    if request.state == State.WITHDRAWN:
        ended = departed(request)
        return ended if request.decision_note == ended else f"{request.requester} withdrew this request."
    if request.state == State.REFUSED:
        return f"{request.decided_by} already refused this request."
    if request.decided_by:
        return f"{request.decided_by} already approved this request."
    return "This request changed while you looked at it."


def departed(request: KeyRequest) -> str:
    """The note of a request that ended because its holder left."""
    return f"{request.holder} no longer receives keys, so the request ended by itself."


def tell(
    actor: User | None,
    request: KeyRequest,
    verb: str,
    sentence: str,
    *,
    things: Sequence[Door | KeySymbol | KeyCopy] = (),
    note: str = "",
) -> None:
    record(
        actor=actor,
        verb=verb,
        sentence=sentence,
        site_id=request.building.site_id,
        subjects=[request, request.holder, *things],
        detail={"note": note.strip()} if note.strip() else {},
    )
