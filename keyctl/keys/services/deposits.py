"""Deposits: taken with the keys of one act, given back when those are back, or kept for a reason."""

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys.access import DESK
from keyctl.keys.models import Deposit
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.holding import held
from keyctl.lib.language import in_english, in_sentence
from keyctl.places.access import require_role


@transaction.atomic
def give_back_deposit(*, actor: User, deposit: Deposit) -> Deposit:
    deposit = _to_settle(actor, deposit)
    return _settle(actor, deposit, Deposit.State.GIVEN_BACK, "gave back")


@transaction.atomic
def keep_deposit(*, actor: User, deposit: Deposit, reason: str) -> Deposit:
    deposit = _to_settle(actor, deposit)
    if not reason.strip():
        raise Refused(_("Say why the deposit is kept: whoever left it may ask."))
    return _settle(actor, deposit, Deposit.State.KEPT, "kept", reason.strip())


def _to_settle(actor: User, deposit: Deposit) -> Deposit:
    """The deposit as it is now, until the end of the transaction, if none of its keys is still out."""
    rows = Deposit.objects.select_related("handover__holder", "handover__site", "settled_by")
    found = held(rows, deposit.pk)
    require_role(actor, found.handover.site, *DESK)
    if found.state != Deposit.State.TAKEN:
        raise Conflict(
            _("{settled_by} has settled this deposit already: {value}. Look at its line again.").format(
                settled_by=found.settled_by, value=in_sentence(found.get_state_display())
            )
        )
    still_out = found.handover.lines_out.filter(ended_at__isnull=True).select_related("copy").first()
    if still_out:
        raise Refused(
            _("Copy {copy} of this act is still out. Take it back, or report it lost, first.").format(
                copy=still_out.copy
            )
        )
    return found


def _settle(actor: User, deposit: Deposit, state: Deposit.State, words: str, reason: str = "") -> Deposit:
    act = deposit.handover
    deposit.state, deposit.reason = state, reason
    deposit.settled_by, deposit.settled_at = actor, timezone.now()
    deposit.save(update_fields=["state", "reason", "settled_by", "settled_at"])
    record(
        actor=actor,
        verb=f"deposit.{state}",
        sentence=f"{words} the deposit of {in_english(deposit)} that {act.holder} left (act {act.number})",
        site_id=act.site_id,
        subjects=[deposit, act, *([act.holder] if act.holder else [])],
        detail={"note": reason} if reason else {},
    )
    return deposit
