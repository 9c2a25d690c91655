"""The nightly round: counts that come due are opened, people are told, and what is late is said again."""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.counts.access import COUNTERS
from keyctl.counts.models import Count, CountCase
from keyctl.counts.selectors.cases import proposed_as_lost
from keyctl.counts.selectors.due import LEAD, Due, due_until
from keyctl.counts.services.numbering import hold_site, next_number
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.models import Site
from keyctl.places.roles import Role

NAME = "counts.due"
EVERY = timedelta(hours=24)


def open_due_counts(now: datetime) -> str:
    """Opens what is due within two weeks, tells custodians, holders and the desk, and names missing keys."""
    today = timezone.localdate(now)
    opened = late = proposed = 0
    for site in Site.objects.all():
        with transaction.atomic():
            hold_site(site)
            found = due_until([site], today + LEAD)
            opened += sum(_open(due) for due in found if due.count is None)
            counts = Count.objects.filter(site=site, state=Count.State.DUE).with_names()
            for count in counts:
                _tell_of(count, today)
            late += sum(1 for count in counts if count.due_on and count.due_on < today)
            proposed += _propose(proposed_as_lost(site, now))
    return f"{opened} counts opened, {late} late, {proposed} missing keys proposed as lost."


def _open(due: Due) -> bool:
    Count.objects.create(
        site=due.site,
        number=next_number(due.site),
        scope=due.scope,
        cabinet=due.cabinet,
        holder=due.holder,
        subject=due.subject,
        rule=due.rule,
        reason=Count.Reason.RULE,
        due_on=due.due_on,
    )
    return True


def _tell_of(count: Count, today: date) -> None:
    """Once when it is opened, and once in each week that it is late."""
    is_late = bool(count.due_on and count.due_on < today)
    year, week, _ = today.isocalendar()
    once = f"count-late:{count.pk}:{year}-{week}" if is_late else f"count-due:{count.pk}"
    for user in _keepers(count):
        send_notice(
            to=mail_of(user),
            name=user.display_name,
            kind="count-late" if is_late else "count-due",
            template="count_due",
            facts={"count": count, "site": count.site, "is_late": is_late},
            site=count.site,
            about=[count],
            once_key=f"{once}:{user.pk}",
        )
    if count.holder and not is_late:
        send_notice(
            to=count.holder.email or mail_of(count.holder.user),
            name=count.holder.name,
            kind="count-holder",
            template="count_holder",
            facts={"count": count, "site": count.site, "declares": count.holder.user_id is not None},
            site=count.site,
            about=[count],
            once_key=f"{once}:holder",
        )


def _keepers(count: Count) -> Iterator[User]:
    """The custodian, or the desk where there is none and for everything else."""
    custodian = count.cabinet.custodian if count.cabinet else None
    if custodian:
        yield custodian
    else:
        yield from _people(count.site, COUNTERS)


def _people(site: Site, roles: Iterable[Role]) -> QuerySet[User]:
    return User.objects.filter(memberships__site=site, memberships__role__in=list(roles)).distinct()


def _propose(cases: QuerySet[CountCase]) -> int:
    """A key is never declared lost by itself: the officer and the desk are told that somebody has to."""
    told = 0
    for case in cases:
        site = case.count.site
        for user in _people(site, (Role.OFFICER, Role.KEY_DESK)):
            notice = send_notice(
                to=mail_of(user),
                name=user.display_name,
                kind="count-missing",
                template="count_missing",
                facts={"case": case, "site": site},
                site=site,
                about=[case],
                once_key=f"count-missing:{case.pk}:{user.pk}",
            )
            told += notice is not None
    return len(cases) if told else 0
