"""What every act on a request shares: the request held and read anew, who was first, and its history."""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.audit.services import record
from keyctl.keys.models import KeyCopy
from keyctl.lib.holding import held
from keyctl.places.models import Door
from keyctl.systems.models import KeySymbol

State = KeyRequest.State


def locked(request: KeyRequest) -> KeyRequest:
    """The request as it is now, until the end of the transaction."""
    named = ("building__site", "holder__site", "holder_user", "requester", "decided_by")
    return held(KeyRequest.objects.select_related(*named), request.pk)


def already(request: KeyRequest) -> str:
    """Who was first, in a sentence."""
    if request.state == State.WITHDRAWN:
        ended = departed(request)
        return (
            ended
            if request.decision_note == ended
            else _("{requester} withdrew this request.").format(requester=request.requester)
        )
    if request.state == State.REFUSED:
        return _("{decided_by} already refused this request.").format(decided_by=request.decided_by)
    if request.decided_by:
        return _("{decided_by} already approved this request.").format(decided_by=request.decided_by)
    return _("This request changed while you looked at it.")


def departed(request: KeyRequest) -> str:
    """The note of a request that ended because its holder left."""
    return _("{holder} no longer receives keys, so the request ended by itself.").format(
        holder=request.holder
    )


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
