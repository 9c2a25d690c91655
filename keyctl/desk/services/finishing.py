"""The act itself: what is on the tray is issued, taken back or passed on, signed for once, with receipts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.approvals.services.fulfilment import collect
from keyctl.desk.models import Tray, TrayLine
from keyctl.desk.selectors import counter_of, lines_of
from keyctl.desk.services.receipts import mail_receipt
from keyctl.desk.services.tray import held_tray, wipe
from keyctl.keys.models import Cabinet, DeskSettings, Handover, Holder, KeyCopy
from keyctl.keys.services import (
    Signature,
    issue_keys,
    register_holder,
    report_broken,
    return_keys,
    take_found,
    transfer_keys,
)
from keyctl.lib.errors import Conflict, Refused
from keyctl.lib.moments import end_of_day
from keyctl.places.models import Site

Way = Handover.Way
HOURS = {Tray.Due.TWO_HOURS: 2, Tray.Due.FOUR_HOURS: 4, Tray.Due.EIGHT_HOURS: 8}
DAYS = {Tray.Due.TODAY: 0, Tray.Due.TOMORROW: 1, Tray.Due.WEEK: 7, Tray.Due.MONTH: 30}


@dataclass(frozen=True)
class Agreed:
    """What stands beside the list when it is signed. ``terms``: the text that the person was shown."""

    signature: Signature | None = None
    due: str = Tray.Due.USUAL
    due_at: datetime | None = None
    deposit: int | None = None
    cabinet: Cabinet | None = None
    brought_by: str = ""
    terms: UUID | None = None
    # What keys that come back are like, by line: newer than what the tray keeps.
    conditions: Mapping[UUID, str] = field(default_factory=dict)


@transaction.atomic
def finish(
    *, actor: User, site: Site, way: str, version: int, act_key: UUID, agreed: Agreed
) -> list[Handover]:
    """One act, and one more for each request that is collected with it. Sent twice, it is done once."""
    tray = held_tray(actor, site, way)
    if act_key == tray.done_key:
        return list(tray.done.all())
    if version != tray.version:
        raise Conflict(
            _("The list is not what it was when this page was shown. Look at it, then sign again.")
        )
    lines = list(lines_of(tray))
    if not lines:
        raise Refused(_("No key is on the list. Scan at least one."))
    acts = _ACTS[Way(tray.way)](actor, tray, lines, agreed)
    for act in acts:
        mail_receipt(act)
    wipe(tray)
    tray.done_key, tray.act_key = tray.act_key, uuid4()
    tray.save(update_fields=["done_key", "act_key"])
    tray.done.set(acts)
    return acts


def due_moment(due: str, due_at: datetime | None, now: datetime) -> datetime | None:
    """None where the holder's kind decides."""
    if due == Tray.Due.AT:
        return due_at
    if hours := HOURS.get(Tray.Due(due)):
        return now + timedelta(hours=hours)
    days = DAYS.get(Tray.Due(due))
    return None if days is None else end_of_day(timezone.localdate(now) + timedelta(days=days))


def _issue(actor: User, tray: Tray, lines: Sequence[TrayLine], agreed: Agreed) -> list[Handover]:
    holder, signature = _taker(actor, tray), _signed(tray, agreed)
    due_at = due_moment(agreed.due, agreed.due_at, timezone.now())
    left = counter_of(tray).proposed_deposit if agreed.deposit is None else agreed.deposit
    acts: list[Handover] = []
    for request, copies in _by_request(lines).items():
        facts: dict[str, Any] = {"actor": actor, "copies": copies, "signature": signature}
        # Money is left once, with the first act.
        deposit, left = left, 0
        if request is None:
            acts.append(issue_keys(holder=holder, due_at=due_at, deposit=deposit, **facts))
        else:
            acts.append(collect(request=request, due_at=due_at, deposit=deposit, **facts))
    return acts


def _transfer(actor: User, tray: Tray, lines: Sequence[TrayLine], agreed: Agreed) -> list[Handover]:
    to, signature = _taker(actor, tray), _signed(tray, agreed)
    due_at = due_moment(agreed.due, agreed.due_at, timezone.now())
    copies = [line.copy for line in lines]
    return [transfer_keys(actor=actor, copies=copies, to=to, signature=signature, due_at=due_at)]


def _take_back(actor: User, tray: Tray, lines: Sequence[TrayLine], agreed: Agreed) -> list[Handover]:
    cabinet = agreed.cabinet
    if cabinet is None:
        raise Refused(_("No cabinet is chosen. Choose the one that the keys go into."))
    tray.cabinet = cabinet
    tray.save(update_fields=["cabinet"])
    for line in lines:
        line.condition = agreed.conditions.get(line.pk, line.condition)
    held = [line.copy for line in lines if line.copy.state != KeyCopy.State.LOST]
    conditions = {line.copy_id: line.get_condition_display() for line in lines if line.condition}
    acts = []
    if held:
        act = return_keys(
            actor=actor,
            copies=held,
            cabinet=cabinet,
            brought_by=agreed.brought_by,
            conditions=conditions,
            signature=agreed.signature,
        )
        acts.append(act)
    for line in lines:
        if line.copy.state == KeyCopy.State.LOST:
            take_found(actor=actor, copy=line.copy, cabinet=cabinet, note=_("Came back to the desk"))
    for line in lines:
        if line.condition == TrayLine.Condition.BROKEN and not line.copy.is_broken:
            report_broken(actor=actor, copy=line.copy, note=_("Came back broken"))
    return acts


_ACTS = {Way.OUT: _issue, Way.BACK: _take_back, Way.TRANSFER: _transfer}


def _taker(actor: User, tray: Tray) -> Holder:
    """Whom the keys go to; somebody who is no holder of the site yet becomes one."""
    if tray.holder:
        return tray.holder
    person = tray.person
    if person is None:
        raise Refused(_("Nobody is named yet. Scan a card, or type the name of who takes the keys."))
    if not person.is_active:
        raise Refused(_("{person} has left and receives no keys.").format(person=person))
    facts = {"email": person.email, "department": person.department, "kind": person.kind}
    return register_holder(actor=actor, site=tray.site, name=person.display_name, person=person, **facts)


def _signed(tray: Tray, agreed: Agreed) -> Signature:
    """The signature, if the terms that were shown beside it are those in force."""
    settings = DeskSettings.objects.filter(site=tray.site).first()
    in_force = settings.terms_id if settings else None
    if in_force != agreed.terms:
        raise Conflict(_("The terms changed while this page was open. Read them anew, then sign."))
    if agreed.signature is None:
        raise Refused(_("Nobody has signed. The person who takes the keys signs, or types their name."))
    return agreed.signature


def _by_request(lines: Sequence[TrayLine]) -> dict[KeyRequest | None, list[KeyCopy]]:
    """What is handed out freely first, then by the request it is collected for."""
    found: dict[KeyRequest | None, list[KeyCopy]] = {}
    for line in sorted(lines, key=lambda line: line.request_id is not None):
        found.setdefault(line.request, []).append(line.copy)
    return found
