"""A key passes from one holder to another; only the desk writes it, and both stand in the register."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys import handing, returning
from keyctl.keys.access import DESK
from keyctl.keys.models import Custody, Handover, Holder, KeyCopy
from keyctl.keys.services.issuing import refuse_past, refuse_taker, usual_end, why_not_for
from keyctl.keys.services.ledger import (
    State,
    end_lines,
    locked,
    locked_holder,
    named,
    open_lines,
    refuse_all,
    shortened,
    tell,
    write_act,
)
from keyctl.keys.signing import Signature, checked_signature
from keyctl.places.access import require_role


@transaction.atomic
def transfer_keys(
    *,
    actor: User,
    copies: Sequence[KeyCopy],
    to: Holder,
    signature: Signature,
    due_at: datetime | None = None,
    version: int | None = None,
) -> Handover:
    """The giver's line ends and the taker's begins by the same act; the taker signs."""
    to, copies = locked_holder(to), locked(copies, version)
    require_role(actor, copies[0].site, *DESK)
    reasons = [_why_not_from(copy, to) or why_not_for(copy, to) for copy in copies]
    refuse_all([reason for reason in reasons if reason])
    refuse_taker(actor, to)
    refuse_all(handing.why_not(actor, to, copies))
    signature = checked_signature(signature)
    due_at = due_at or usual_end(to)
    refuse_past(due_at)
    givers = list({copy.holder_id: copy.holder for copy in copies if copy.holder}.values())
    act = write_act(actor, to.site, Handover.Way.TRANSFER, holder=to, signature=signature)
    end_lines(actor, copies, Custody.Ending.TRANSFERRED, back_act=act)
    open_lines(act, copies, to, due_at)
    sentence = f"transferred {named(copies)} from {shortened([str(giver) for giver in givers])} to {to}"
    returning.tell_listeners(actor, givers)
    tell(actor, copies, "key.transferred", sentence, things=[*givers, to, act], detail={"act": act.number})
    return act


def _why_not_from(copy: KeyCopy, to: Holder) -> str | None:
    if copy.state == State.IN_CABINET:
        return _("Copy {copy} is in {cabinet}, with nobody. Hand it out instead.").format(
            copy=copy, cabinet=copy.cabinet
        )
    if copy.state == State.LOST:
        return _("Copy {copy} is reported lost. If it was found, take it back first.").format(copy=copy)
    if copy.state == State.DESTROYED:
        return _("Copy {copy} was destroyed. Look at the serial again.").format(copy=copy)
    if copy.holder_id == to.pk:
        return _("Copy {copy} is with {to} already. Choose somebody else, or leave it.").format(
            copy=copy, to=to
        )
    return None
