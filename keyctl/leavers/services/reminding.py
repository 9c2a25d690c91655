"""Reminders: in rounds by the routine, by hand at any time, to managers when nothing helps; or paused."""

from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from keyctl.accounts.models import User
from keyctl.audit.services import record
from keyctl.keys.models import Custody, Holder, KeyCopy
from keyctl.leavers.access import KEEPERS, RULERS
from keyctl.leavers.models import LeaverCase, LeaverRules, Reminder
from keyctl.leavers.services.closing import close_where_back, end_as_staying, locked
from keyctl.leavers.services.opening import open_case, rules_of, tell
from keyctl.lib.days import day
from keyctl.lib.errors import Refused
from keyctl.lib.holding import save_next
from keyctl.lib.retold import kept_text
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.access import require_role
from keyctl.places.models import BuildingManager, Site
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at

Kind = Reminder.Kind
State = LeaverCase.State
LONGEST_PAUSE = timedelta(days=92)
MOST_MANAGERS = 10
# Who presses twice sends once.
BY_HAND_EVERY = timedelta(minutes=10)
LOOKED_AFTER = kept_text(gettext_noop("Cases opened: {found}, closed: {closed}, reminders written: {sent}."))


def look_after(now: datetime) -> str:
    """The routine: who has keys and has left gets a case, done ones close, and due reminders go out."""
    found = _open_forgotten()
    closed = _close_done()
    sent = sum(_remind_due(pk, now) for pk in _due(now))
    return LOOKED_AFTER.format(found=found, closed=closed, sent=sent)


@transaction.atomic
def remind_now(*, actor: User, case: LeaverCase, version: int) -> Reminder:
    """One more, outside the rounds; the next round is counted from it."""
    case = locked(case, version)
    require_role(actor, case.holder.site, *KEEPERS)
    now = timezone.now()
    if case.reminders.filter(kind=Kind.HAND, at__gt=now - BY_HAND_EVERY).exists():
        raise Refused(gettext("A reminder went out a few minutes ago. Give it time to be read."))
    reminder = _write(case, Kind.HAND, now, actor)
    if case.next_reminder_at is not None:
        case.next_reminder_at = now + timedelta(days=rules_of(case.holder.site).repeat_days)
    save_next(case, "next_reminder_at")
    tell(actor, case, "reminded", f"sent {case.holder} a reminder of their keys")
    return reminder


@transaction.atomic
def pause_reminders(*, actor: User, case: LeaverCase, version: int, until: date, reason: str) -> LeaverCase:
    """Through that day none goes out by itself: somebody is ill, or has agreed on a day."""
    case = locked(case, version)
    require_role(actor, case.holder.site, *KEEPERS)
    refuse_pause(until, reason)
    case.paused_until, case.pause_reason, case.paused_by = until, reason.strip(), actor
    save_next(case, "paused_until", "pause_reason", "paused_by")
    tell(
        actor, case, "paused", f"paused the reminders of {case.holder} until {until:%-d %b %Y}", reason=reason
    )
    return case


def refuse_pause(until: date, reason: str) -> None:
    """For whatever reminders rest: these, and those of what is due at the desk."""
    today = timezone.localdate()
    if until < today:
        raise Refused(gettext("{until} is past. Choose a day to come.").format(until=day(until)))
    if until > today + LONGEST_PAUSE:
        raise Refused(gettext("A pause lasts three months at most: keys that nobody asks for are forgotten."))
    if not reason.strip():
        raise Refused(gettext("Say why the reminders rest."))


@transaction.atomic
def end_pause(*, actor: User, case: LeaverCase, version: int) -> LeaverCase:
    case = locked(case, version)
    require_role(actor, case.holder.site, *KEEPERS)
    if case.paused_until is None:
        raise Refused(gettext("The reminders are not paused."))
    case.paused_until, case.pause_reason, case.paused_by = None, "", None
    save_next(case, "paused_until", "pause_reason", "paused_by")
    tell(actor, case, "pause_ended", f"let the reminders of {case.holder} go on")
    return case


@transaction.atomic
def set_rules(
    *, actor: User, site: Site, lead_days: int, repeat_days: int, escalate_after: int, stop_after: int
) -> LeaverRules:
    """How the site reminds from now on; reminders that are due already keep their day."""
    require_role(actor, site, *RULERS)
    if escalate_after > stop_after:
        raise Refused(gettext("Managers are told while reminders still go out: not after the last of them."))
    rules, _ = LeaverRules.objects.update_or_create(
        site=site,
        defaults={
            "lead_days": lead_days,
            "repeat_days": repeat_days,
            "escalate_after": escalate_after,
            "stop_after": stop_after,
        },
    )
    record(
        actor=actor,
        verb="leaver.rules_set",
        sentence=f"set how leavers at {site} are reminded: every {repeat_days} days, {stop_after} times",
        site_id=site.pk,
        subjects=[site],
    )
    return rules


def _open_forgotten() -> int:
    """Whatever way a holder left or a key went out: nobody who has left holds keys without a case."""
    holding = Holder.objects.filter(is_active=False, copies__isnull=False)
    forgotten = holding.exclude(leaver_cases__state=State.OPEN).select_related("site").distinct()
    # A case closed with a reason is not opened again for the same keys.
    opened = 0
    for holder in forgotten:
        given_up = (
            holder.leaver_cases.filter(outcome=LeaverCase.Outcome.REASON).order_by("-closed_at").first()
        )
        newer = Custody.objects.filter(holder=holder, ended_at=None)
        if given_up and not newer.filter(out_at__gt=given_up.closed_at).exists():
            continue
        open_case(actor=None, holder=holder, why=LeaverCase.Why.FOUND)
        opened += 1
    return opened


@transaction.atomic
def _close_done() -> int:
    """Where the last day has come and nothing is out, and where a holder receives keys again."""
    is_open = LeaverCase.objects.filter(state=State.OPEN)
    here_again = is_open.filter(leaves_on=None, holder__is_active=True).select_related("holder")
    back = [case for case in here_again if end_as_staying(None, case.holder)]
    idle = is_open.filter(holder__copies=None)
    return len(back) + len(close_where_back(None, idle.values_list("holder", flat=True)))


def _due(now: datetime) -> list[UUID]:
    due = LeaverCase.objects.filter(state=State.OPEN, next_reminder_at__lte=now)
    return list(due.order_by("next_reminder_at").values_list("pk", flat=True))


@transaction.atomic
def _remind_due(pk: UUID, now: datetime) -> bool:
    rows = LeaverCase.objects.select_for_update(of=("self",)).select_related("holder__site")
    case = rows.filter(pk=pk, state=State.OPEN, next_reminder_at__lte=now).first()
    if case is None or _rests(case, now) or not KeyCopy.objects.filter(holder=case.holder).exists():
        return False
    rules = rules_of(case.holder.site)
    _write(case, Kind.REMINDER if case.has_left else Kind.ANNOUNCED, now)
    case.reminded += 1
    if case.reminded >= rules.escalate_after and case.escalated_at is None and case.has_left:
        _escalate(case, now)
        case.escalated_at = now
    more = case.reminded < rules.stop_after
    case.next_reminder_at = now + timedelta(days=rules.repeat_days) if more else None
    save_next(case, "reminded", "escalated_at", "next_reminder_at")
    return True


def _rests(case: LeaverCase, now: datetime) -> bool:
    return case.paused_until is not None and case.paused_until >= timezone.localdate(now)


def _write(case: LeaverCase, kind: Reminder.Kind, now: datetime, sent_by: User | None = None) -> Reminder:
    """To the person: the serials, which mean nothing to a finder; never a door, never a symbol."""
    holder = case.holder
    lines = (
        Custody.objects.filter(holder=holder, ended_at=None).select_related("copy").order_by("copy__serial")
    )
    notice = send_notice(
        to=address_of(holder),
        name=holder.name,
        kind="leaver.reminder",
        template="leaver_reminder",
        facts={"case": case, "lines": list(lines), "has_left": case.has_left},
        site=holder.site,
        about=[case, holder],
        once_key=f"leaver:{case.pk}:{kind}:{now.isoformat()}",
    )
    return Reminder.objects.create(
        case=case, kind=kind, at=now, to_name=holder.name, notice=notice, sent_by=sent_by
    )


def _escalate(case: LeaverCase, now: datetime) -> None:
    """To the managers of the buildings behind the keys; where there is none, to the security officers."""
    holder = case.holder
    count = KeyCopy.objects.filter(holder=holder).count()
    for user in managers_behind(holder) or _officers(holder.site):
        notice = send_notice(
            to=mail_of(user),
            name=user.display_name,
            kind="leaver.escalation",
            template="leaver_escalation",
            facts={"case": case, "count": count},
            site=holder.site,
            about=[case, holder],
            once_key=f"leaver:{case.pk}:escalation:{case.reminded}:{user.pk}",
        )
        Reminder.objects.create(
            case=case, kind=Kind.ESCALATION, at=now, to_name=user.display_name, notice=notice
        )


def managers_behind(holder: Holder) -> list[User]:
    """Managers named for a building that the holder's keys open by the pins."""
    symbols = KeyCopy.objects.filter(holder=holder).values("symbol")
    named = BuildingManager.objects.filter(
        building__site=holder.site,
        building__floors__doors__housings__cores__turns__symbol__in=symbols,
        building__floors__doors__housings__cores__turns__operates=True,
    )
    managers = people_at(holder.site, Role.MANAGER)
    return list(managers.filter(pk__in=named.values("user"))[:MOST_MANAGERS])


def _officers(site: Site) -> list[User]:
    return list(people_at(site, Role.OFFICER)[:MOST_MANAGERS])


def address_of(holder: Holder) -> str:
    if holder.email:
        return holder.email
    return holder.person.email if holder.person else ""
