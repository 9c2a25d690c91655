"""A case opens: told by a directory, by a list, at the desk, or found by the daily look."""

from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys.models import Custody, Holder
from keyctl.keys.services import deactivate_holder
from keyctl.keys.services.ledger import locked_holder
from keyctl.leavers.access import KEEPERS
from keyctl.leavers.models import LeaverCase, LeaverRules
from keyctl.lib.days import day
from keyctl.lib.errors import Refused
from keyctl.places.access import require_role
from keyctl.places.models import Site

Why = LeaverCase.Why
State = LeaverCase.State
LONGEST_LEAD = timedelta(days=730)


@transaction.atomic
def announce_leaving(*, actor: User, holder: Holder, leaves_on: date, note: str = "") -> LeaverCase:
    """Somebody will go on a day that is known: they are reminded before it."""
    require_role(actor, holder.site, *KEEPERS)
    _refuse_day(leaves_on)
    holder = locked_holder(holder)
    if not holder.is_active:
        raise Refused(
            _("{holder} has left already. Look at their case, or at the keys they hold.").format(
                holder=holder
            )
        )
    return open_case(actor=actor, holder=holder, why=Why.HAND, note=note, leaves_on=leaves_on)


@transaction.atomic
def tell_leaving(
    *, actor: User, holder: Holder, leaves_on: date | None = None, note: str = ""
) -> LeaverCase | None:
    """They will go on that day, or, without one, are gone. No case where nothing has to come back."""
    if leaves_on is not None:
        return announce_leaving(actor=actor, holder=holder, leaves_on=leaves_on, note=note)
    deactivate_holder(actor=actor, holder=holder, note=note)
    return LeaverCase.objects.filter(holder=holder, state=State.OPEN).first()


@transaction.atomic
def open_case(
    *, actor: User | None, holder: Holder, why: LeaverCase.Why, note: str = "", leaves_on: date | None = None
) -> LeaverCase:
    """The holder's open case: a new one, or the one that is there with what is known now.

    The caller has asked for the right to tell of the leaving, or is the program itself.
    """
    case = LeaverCase.objects.select_for_update(of=("self",)).filter(holder=holder, state=State.OPEN).first()
    if case is None:
        case = _opened(actor, holder, why, note, leaves_on)
    if case.leaves_on != leaves_on and (leaves_on or case.leaves_on):
        _change_day(actor, case, leaves_on, note)
    return case


def on_departing(actor: User, holder: Holder) -> None:
    """A holder receives no more keys: what they have is called back, if it is anything."""
    if holds_keys(holder) or LeaverCase.objects.filter(holder=holder, state=State.OPEN).exists():
        open_case(actor=actor, holder=holder, why=Why.HAND)


def holds_keys(holder: Holder) -> bool:
    """By the register's open lines: they end first when a key comes back."""
    return Custody.objects.filter(holder=holder, ended_at=None).exists()


def rules_of(site: Site) -> LeaverRules:
    """The site's, or what holds where nobody has said."""
    return LeaverRules.objects.filter(site=site).first() or LeaverRules(site=site)


def _opened(
    actor: User | None, holder: Holder, why: LeaverCase.Why, note: str, leaves_on: date | None
) -> LeaverCase:
    case = LeaverCase(holder=holder, why=why, note=note, leaves_on=leaves_on, opened_by=actor)
    case.next_reminder_at = first_reminder(holder.site, leaves_on)
    try:
        with transaction.atomic():
            case.save(force_insert=True)
    except IntegrityError:
        # Somebody told the same a moment ago; theirs is the case.
        return LeaverCase.objects.select_related("holder__site").get(holder=holder, state=State.OPEN)
    when = f"leaves on {leaves_on:%-d %b %Y}" if leaves_on else "has left"
    tell(actor, case, "opened", f"opened the case of {holder}, who {when}")
    return case


def _change_day(actor: User | None, case: LeaverCase, leaves_on: date | None, note: str) -> None:
    """An announced leaving has another day, or is here."""
    case.leaves_on, case.version = leaves_on, case.version + 1
    case.reminded, case.escalated_at = 0, None
    case.next_reminder_at = first_reminder(case.holder.site, leaves_on)
    if note:
        case.note = note
    case.save(update_fields=["leaves_on", "version", "reminded", "escalated_at", "next_reminder_at", "note"])
    when = f"leaves on {leaves_on:%-d %b %Y}" if leaves_on else "has left"
    tell(actor, case, "day_changed", f"wrote down that {case.holder} {when}")


def first_reminder(site: Site, leaves_on: date | None) -> datetime:
    """At once, or so many days before the last one as the site wants."""
    now = timezone.now()
    if leaves_on is None:
        return now
    first = leaves_on - timedelta(days=rules_of(site).lead_days)
    return max(now, timezone.make_aware(datetime.combine(first, datetime.min.time())))


def _refuse_day(leaves_on: date) -> None:
    today = timezone.localdate()
    if leaves_on < today:
        raise Refused(
            _("{leaves_on} is past. Say that they have left instead.").format(leaves_on=day(leaves_on))
        )
    if leaves_on > today + LONGEST_LEAD:
        raise Refused(_("That is more than two years away. Announce it when it is nearer."))


def tell(actor: User | None, case: LeaverCase, verb: str, sentence: str, **detail: object) -> None:
    """History names a person; what the program did by itself stands on the case alone."""
    if actor is None:
        return
    record(
        actor=actor,
        verb=f"leaver.{verb}",
        sentence=sentence,
        site_id=case.holder.site_id,
        subjects=[case, case.holder],
        detail=dict(detail),
    )
