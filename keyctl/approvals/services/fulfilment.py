"""From the last decision to the key in the holder's hand."""

from django.db import transaction

from keyctl.accounts.models import User
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.services.locking import locked, tell
from keyctl.keys.models import KeyCopy
from keyctl.keys.services import hand_out
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.moments import end_of_day

State = KeyRequest.State


def begin(actor: User, request: KeyRequest) -> None:
    """Called in the transaction of the last decision, with the request held: make its keys ready."""


@transaction.atomic
def hand_out_grant(*, actor: User, grant: Grant, copy: KeyCopy, signed_as: str) -> Grant:
    request = locked(grant.request)
    grant = Grant.objects.select_related("symbol", "approved_by").get(pk=grant.pk)
    _refuse_handing_out(actor, request, grant, copy)
    due_at = end_of_day(request.needed_until) if request.needed_until else None
    hand_out(
        actor=actor,
        copy=copy,
        holder=request.holder,
        signed_as=signed_as,
        due_at=due_at,
        on_request=request,
    )
    grant.copy, grant.handed_out_by = copy, actor
    grant.save(update_fields=["copy", "handed_out_by"])
    if not request.grants.filter(copy__isnull=True).exists():
        request.state = State.HANDED_OUT
    request.version += 1
    request.save(update_fields=["state", "version"])
    sentence = f"handed out copy {copy} on the request of {request.requester}"
    tell(actor, request, "request.handed_out", sentence, things=[copy, grant.symbol])
    return grant


def _refuse_handing_out(actor: User, request: KeyRequest, grant: Grant, copy: KeyCopy) -> None:
    if grant.copy_id is not None:
        raise Conflict(f"The key for this request was already handed out, as copy {grant.copy}.")
    if request.state != State.APPROVED:
        raise Refused("This request is not approved, so no key is handed out on it.")
    if copy.symbol_id != grant.symbol_id:
        raise Refused(f"Copy {copy} is not a copy of {grant.symbol}. Take one from the list.")
    if grant.is_master and grant.approved_by_id == actor.pk:
        raise Refused("You approved this master key. Somebody else at the desk hands it out.")
