"""Handing keys out: several copies to one holder, signed for once."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Model
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.keys import handing
from keyctl.keys.access import GIVERS, stands_for
from keyctl.keys.models import Custody, Deposit, DeskSettings, Handover, Holder, KeyCopy
from keyctl.keys.programs import refuse_program_masters
from keyctl.keys.reservations import set_aside
from keyctl.keys.services.ledger import (
    State,
    locked,
    locked_holder,
    named,
    open_lines,
    refuse_all,
    tell,
    write_act,
)
from keyctl.keys.signing import Signature, checked_signature
from keyctl.lib.days import day_or_moment
from keyctl.lib.errors import Refused
from keyctl.lib.moments import said
from keyctl.places.access import require_role

# More than a master key could be worth: a slip of the keyboard.
LARGEST_DEPOSIT = 10_000_000


@transaction.atomic
def issue_keys(
    *,
    actor: User,
    holder: Holder,
    copies: Sequence[KeyCopy],
    signature: Signature,
    due_at: datetime | None = None,
    deposit: int = 0,
    on_request: Model | None = None,
    version: int | None = None,
) -> Handover:
    """``due_at`` is by the holder's kind where nobody says; ``deposit`` is in the currency's smallest unit.

    ``on_request`` is what the keys were asked for by: copies that are set aside for it may go.
    """
    holder, copies = locked_holder(holder), locked(copies, version)
    require_role(actor, copies[0].site, *GIVERS)
    refuse_program_masters(actor, copies[0].site, [copy.symbol for copy in copies], "hands out")
    _refuse_copies(copies, holder, set_aside(copies, on_request))
    refuse_taker(actor, holder)
    refuse_all(handing.why_not(actor, holder, copies))
    signature = checked_signature(signature)
    due_at = due_at or usual_end(holder)
    refuse_past(due_at)
    act = write_act(actor, holder.site, Handover.Way.OUT, holder=holder, signature=signature)
    open_lines(act, copies, holder, due_at)
    _take_deposit(act, deposit)
    until = f", due back on {said(due_at)}" if due_at else ""
    sentence = f"handed out {named(copies)} to {holder}{until}"
    detail = {"deposit": deposit, "act": act.number}
    tell(actor, copies, "key.handed_out", sentence, things=[holder, act, on_request], detail=detail)
    return act


@transaction.atomic
def hand_out(
    *,
    actor: User,
    copy: KeyCopy,
    holder: Holder,
    signed_as: str,
    due_at: datetime | None = None,
    version: int | None = None,
    on_request: Model | None = None,
) -> Custody:
    """One copy, signed for by a typed name."""
    act = issue_keys(
        actor=actor,
        holder=holder,
        copies=[copy],
        signature=Signature(signed_as),
        due_at=due_at,
        version=version,
        on_request=on_request,
    )
    return act.lines_out.select_related("copy__symbol__system", "holder", "handed_out_by", "out_act").get()


def usual_end(holder: Holder) -> datetime | None:
    """When somebody of the holder's kind brings keys back at the site, where nobody says otherwise."""
    settings = DeskSettings.objects.filter(site=holder.site_id).first()
    hours = settings and settings.loan_hours(holder.kind)
    return timezone.now() + timedelta(hours=hours) if hours else None


def refuse_taker(actor: User, holder: Holder) -> None:
    if not holder.is_active:
        raise Refused(_("{holder} no longer receives keys. Choose somebody who does.").format(holder=holder))
    if stands_for(holder, actor):
        raise Refused(_("Nobody hands a key to themselves. Somebody else at the desk does it."))


def refuse_past(due_at: datetime | None) -> None:
    if due_at and due_at <= timezone.now():
        raise Refused(
            _("{said} is past. Choose a later day to bring the key back.").format(said=day_or_moment(due_at))
        )


def why_not_for(copy: KeyCopy, holder: Holder) -> str | None:
    if copy.site_id != holder.site_id:
        return _(
            "{holder} is a holder at {site}, and the copy belongs to {site_2}. Register the person at "
            "{site_2} first."
        ).format(holder=holder, site=holder.site, site_2=copy.site)
    if copy.is_broken:
        return _("Copy {copy} is broken. Destroy it and hand out another copy.").format(copy=copy)
    return None


def _refuse_copies(copies: Sequence[KeyCopy], holder: Holder, aside: Mapping[UUID, str]) -> None:
    reasons = [_why_not_out(copy) or why_not_for(copy, holder) or aside.get(copy.pk) for copy in copies]
    refuse_all([reason for reason in reasons if reason])


def _why_not_out(copy: KeyCopy) -> str | None:
    if copy.state == State.HELD:
        return _("Copy {copy} is already out, with {holder}. Take it back first.").format(
            copy=copy, holder=copy.holder
        )
    if copy.state == State.LOST:
        return _("Copy {copy} is reported lost. If it was found, take it back first.").format(copy=copy)
    if copy.state == State.DESTROYED:
        return _("Copy {copy} was destroyed. Hand out another copy.").format(copy=copy)
    return None


def _take_deposit(act: Handover, amount: int) -> None:
    if not 0 <= amount <= LARGEST_DEPOSIT:
        raise Refused(
            _("A deposit is between 0 and {number}. Look at the amount again.").format(
                number=LARGEST_DEPOSIT // 100
            )
        )
    if amount:
        currency = DeskSettings.objects.get(site=act.site_id).currency
        Deposit.objects.create(handover=act, amount=amount, currency=currency)
