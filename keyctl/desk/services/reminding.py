"""Reminders of due keys: one mail for each holder, before the day and after it, until somebody else must act.

Of those who leave, the recovery cases remind; here nobody is reminded twice.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_noop

from keyctl.desk.addressing import address_of
from keyctl.desk.models import DuePause, DueReminders, DueRules
from keyctl.keys.access import DESK
from keyctl.keys.models import Custody, Holder
from keyctl.leavers.models import LeaverCase
from keyctl.lib.retold import kept_text
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.models import Site
from keyctl.places.selectors import people_at

WRITTEN = kept_text(gettext_noop("Reminders of due keys written: {written}."))


def remind_of_due_keys(now: datetime) -> str:
    """The routine: who has keys that are due soon or overdue is told, as the site's rules say."""
    rules = {row.site_id: row for row in DueRules.objects.all()}
    written = 0
    for site in Site.objects.all():
        ruled = rules.get(site.pk) or DueRules(site=site)
        if ruled.is_on:
            written += sum(_remind(pk, ruled, now) for pk in _to_remind(ruled, now))
    return WRITTEN.format(written=written)


def _to_remind(rules: DueRules, now: datetime) -> list[UUID]:
    paused = DuePause.objects.filter(
        holder=OuterRef("pk"), ended_at__isnull=True, until__gte=timezone.localdate(now)
    )
    leaving = LeaverCase.objects.filter(holder=OuterRef("pk"), state=LeaverCase.State.OPEN)
    holders = Holder.objects.filter(site=rules.site, is_active=True).exclude(Exists(paused))
    due = Custody.objects.filter(
        holder=OuterRef("pk"), ended_at__isnull=True, due_at__lte=now + timedelta(days=rules.lead_days)
    )
    return list(holders.exclude(Exists(leaving)).filter(Exists(due)).values_list("pk", flat=True))


@transaction.atomic
def _remind(pk: UUID, rules: DueRules, now: datetime) -> bool:
    """The holder is held, so that two workers do not both find that it is time."""
    holder = Holder.objects.select_for_update(of=("self",)).select_related("site").get(pk=pk)
    lines = list(_due_lines(holder, rules, now))
    if not lines or not lines[0].due_at:
        return False
    so_far = _so_far(holder, lines[0].due_at)
    if not _is_time(so_far, rules, now):
        return False
    is_overdue = so_far.due_at <= now
    so_far.count += is_overdue
    so_far.last_at = now
    _mail(holder, lines, so_far, is_overdue=is_overdue)
    # Nobody can be mailed who has no address: then the desk calls at once.
    is_for_desk = so_far.count >= rules.tell_desk_after or not address_of(holder)
    if is_overdue and is_for_desk and so_far.desk_told_at is None:
        _tell_desk(holder, lines, so_far)
        so_far.desk_told_at = now
    so_far.save()
    return True


def _due_lines(holder: Holder, rules: DueRules, now: datetime) -> QuerySet[Custody]:
    """Overdue or due soon, the oldest first; a loan that is shorter than the warning needs none."""
    lead = timedelta(days=rules.lead_days)
    lines = Custody.objects.filter(holder=holder, ended_at__isnull=True, due_at__lte=now + lead)
    short = [
        line.pk for line in lines if line.due_at and line.due_at > now and line.due_at - line.out_at <= lead
    ]
    return lines.exclude(pk__in=short).select_related("copy").order_by("due_at", "copy__serial")


def _so_far(holder: Holder, due_at: datetime) -> DueReminders:
    """Counted for the oldest key; when that is back, the next one is a matter of its own."""
    found = DueReminders.objects.filter(holder=holder).first() or DueReminders(holder=holder, due_at=due_at)
    if found.due_at != due_at:
        found.due_at, found.count, found.last_at, found.desk_told_at = due_at, 0, None, None
    return found


def _is_time(so_far: DueReminders, rules: DueRules, now: datetime) -> bool:
    if so_far.due_at > now:
        return so_far.last_at is None
    if so_far.count >= rules.stop_after:
        return False
    if so_far.last_at is None or so_far.count == 0:
        return True
    return now - so_far.last_at >= timedelta(days=rules.repeat_days)


def _mail(holder: Holder, lines: Sequence[Custody], so_far: DueReminders, *, is_overdue: bool) -> None:
    send_notice(
        to=address_of(holder),
        name=holder.name,
        kind="desk.overdue" if is_overdue else "desk.due_soon",
        template="desk/overdue" if is_overdue else "desk/due_soon",
        facts={"holder": holder, "lines": lines, "path": reverse("keys:holder", args=[holder.pk])},
        site=holder.site,
        about=[holder],
        once_key=_key(so_far),
    )


def _tell_desk(holder: Holder, lines: Sequence[Custody], so_far: DueReminders) -> None:
    for user in people_at(holder.site, *DESK):
        send_notice(
            to=mail_of(user),
            name=str(user),
            kind="desk.still_overdue",
            template="desk/still_overdue",
            facts={
                "holder": holder,
                "count": len(lines),
                "reminders": so_far.count if address_of(holder) else 0,
                "path": reverse("keys:holder", args=[holder.pk]),
            },
            site=holder.site,
            about=[holder],
            once_key=f"{_key(so_far)}:{user.pk}",
        )


def _key(so_far: DueReminders) -> str:
    return f"due:{so_far.holder_id}:{so_far.due_at.timestamp():.0f}:{so_far.count}"
