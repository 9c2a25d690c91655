"""From the last decision to the key in the holder's hand."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.models import Grant, KeyRequest
from keyctl.approvals.services.locking import already, tell
from keyctl.approvals.services.setting_aside import UNSETTLED, drop_orders, held, provide, settle
from keyctl.approvals.services.telling import tell_collected
from keyctl.keys.access import CUTTERS
from keyctl.keys.models import Handover, KeyCopy
from keyctl.keys.services import Signature, issue_keys, locked_holder
from keyctl.lib.days import day
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.moments import end_of_day
from keyctl.places.access import require_role

State = KeyRequest.State


def begin(actor: User, request: KeyRequest) -> None:
    """Called in the transaction of the last decision, with the request held: make its keys ready."""
    provide(actor, request)


@transaction.atomic
def look_again(*, actor: User, request: KeyRequest) -> KeyRequest:
    """Take from stock what has come in meanwhile, order what is not being cut; a lapsed request lives on."""
    request = held(request)
    require_role(actor, request.building.site, *CUTTERS)
    if request.state not in (*UNSETTLED, State.LAPSED):
        raise Refused(_("{already} Nothing is made ready for it.").format(already=already(request)))
    if not request.holder.is_active:
        raise Refused(
            _("{holder} no longer receives keys. The request stays as it is.").format(holder=request.holder)
        )
    if request.needed_until and request.needed_until < timezone.localdate():
        raise Refused(
            _("The keys were needed until {until}. Ask anew.").format(until=day(request.needed_until))
        )
    if request.state == State.LAPSED:
        request.state, request.ready_at = State.APPROVED, None
        request.version += 1
        request.save(update_fields=["state", "ready_at", "version"])
    provide(actor, request)
    tell(actor, request, "request.looked_again", f"looked for the keys of {request.holder} again")
    return request


@transaction.atomic
def collect(
    *,
    actor: User,
    request: KeyRequest,
    copies: Sequence[KeyCopy],
    signature: Signature,
    due_at: datetime | None = None,
    deposit: int = 0,
) -> Handover:
    """The holder takes keys that the request gives, all or some, and signs once.

    They are due back when the request's time ends, or sooner by ``due_at``.
    """
    # The holder before the request, as whoever ends their right to keys takes the two.
    locked_holder(request.holder)
    request = held(request)
    _refuse_collecting(request)
    grants = _grants_for(request, copies)
    _refuse_own_master(actor, request, grants)
    end = end_of_day(request.needed_until) if request.needed_until else None
    act = issue_keys(
        actor=actor,
        holder=request.holder,
        copies=copies,
        signature=signature,
        due_at=min((moment for moment in (due_at, end) if moment), default=None),
        deposit=deposit,
        on_request=request,
    )
    for grant, copy in zip(grants, copies, strict=True):
        grant.copy, grant.handed_out_by, grant.reserved_copy = copy, actor, None
        grant.save(update_fields=["copy", "handed_out_by", "reserved_copy"])
    if any(grant.is_master for grant in grants):
        request.steps.filter(decided_by__isnull=False).update(master_out_by=actor)
    _go_on(actor, request)
    sentence = f"handed out {_counted(copies)} on the request of {request.requester}"
    tell_collected(request)
    tell(actor, request, "request.handed_out", sentence, things=[*copies, *(g.symbol for g in grants)])
    return act


@transaction.atomic
def hand_out_grant(*, actor: User, grant: Grant, copy: KeyCopy, signed_as: str) -> Grant:
    """One key of a request, signed for by a typed name."""
    if copy.symbol_id != grant.symbol_id:
        raise Refused(
            _("Copy {copy} is not a copy of {symbol}. Take one from the list.").format(
                copy=copy, symbol=grant.symbol
            )
        )
    collect(actor=actor, request=grant.request, copies=[copy], signature=Signature(signed_as))
    return Grant.objects.select_related("symbol", "copy", "request__holder").get(pk=grant.pk)


def _go_on(actor: User, request: KeyRequest) -> None:
    before = request.state
    settle(actor, request)
    if request.state == State.HANDED_OUT:
        drop_orders(actor, request)
    if request.state == before:
        request.version += 1
        request.save(update_fields=["version"])


def _refuse_collecting(request: KeyRequest) -> None:
    if request.state in {State.WITHDRAWN, State.REFUSED}:
        raise Conflict(_("{already} No key is handed out on it.").format(already=already(request)))
    if request.state == State.LAPSED:
        raise Refused(_("The keys were not collected in time and went back into stock. Look for them again."))
    if request.state not in (*UNSETTLED, State.HANDED_OUT):
        raise Refused(
            _("This request is not approved, so no key is handed out on it. Wait for its decision.")
        )
    today = timezone.localdate()
    if request.starts_on and request.starts_on > today:
        raise Refused(_("These keys are given from {day} on, not before.").format(day=day(request.starts_on)))
    if request.needed_until and request.needed_until < today:
        raise Refused(
            _("The keys were needed until {until}. Ask anew.").format(until=day(request.needed_until))
        )


def _grants_for(request: KeyRequest, copies: Sequence[KeyCopy]) -> list[Grant]:
    """The grant that each copy fulfils, in the order of the copies."""
    grants = {grant.symbol_id: grant for grant in request.grants.select_related("symbol", "copy")}
    found = []
    for copy in copies:
        grant = grants.pop(copy.symbol_id, None)
        if grant is None:
            raise Refused(
                _("Copy {copy} is not what this request gives, or it is there twice. Take it out.").format(
                    copy=copy
                )
            )
        if grant.copy_id is not None:
            raise Conflict(
                _(
                    "The key for this request was already handed out, as copy {copy}. Look at it again."
                ).format(copy=grant.copy)
            )
        found.append(grant)
    return found


def _refuse_own_master(actor: User, request: KeyRequest, grants: Sequence[Grant]) -> None:
    if not any(grant.is_master for grant in grants):
        return
    has_decided = request.steps.filter(decided_by=actor).exists()
    if has_decided or any(grant.approved_by_id == actor.pk for grant in grants):
        raise Refused(_("You approved this master key. Somebody else at the desk hands it out."))


def _counted(copies: Sequence[KeyCopy]) -> str:
    return f"copy {copies[0]}" if len(copies) == 1 else f"{len(copies)} keys"
