"""The nightly round: counts that come due are opened, people are told, and what is late is said again.

In short transactions: a site with thousands of holders must not keep everybody else from writing.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import TypeVar

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_noop

from keyctl.accounts.models import User
from keyctl.counts.access import COUNTERS
from keyctl.counts.models import Count, CountCase
from keyctl.counts.selectors.cases import proposed_as_lost
from keyctl.counts.selectors.due import LEAD, Due, due_until
from keyctl.counts.services.numbering import hold_site, next_number
from keyctl.lib.retold import kept_text
from keyctl.notices.models import Notice
from keyctl.notices.services import mail_of, send_notice
from keyctl.places.models import Site
from keyctl.places.roles import Role
from keyctl.places.selectors import people_at

NAME = "counts.due"
EVERY = timedelta(hours=24)
AT_ONCE = 50
Scope, State = Count.Scope, Count.State
Thing = TypeVar("Thing")
OPENED = kept_text(
    gettext_noop("Counts opened: {opened}, late: {late}, missing keys proposed as lost: {proposed}.")
)


def open_due_counts(now: datetime) -> str:
    """Opens what is due within two weeks, tells custodians, holders and the desk, and names missing keys."""
    today = timezone.localdate(now)
    opened = late = proposed = 0
    for site in Site.objects.all():
        found = [due for due in due_until([site], today + LEAD) if due.count is None]
        opened += sum(_open_all(site, piece) for piece in _pieces(found))
        waiting = Count.objects.filter(site=site, state=State.DUE).with_names()
        late += waiting.filter(due_on__lt=today).count()
        _tell_all(site, waiting, today)
        proposed += _propose(proposed_as_lost(site, now))
    return OPENED.format(opened=opened, late=late, proposed=proposed)


@transaction.atomic
def _open_all(site: Site, found: Sequence[Due]) -> int:
    hold_site(site)
    wanted = [due for due in found if not _is_open(due)]
    number = next_number(site)
    Count.objects.bulk_create([_new(due, number + place) for place, due in enumerate(wanted)])
    return len(wanted)


def _is_open(due: Due) -> bool:
    """Somebody may have begun it since the list was made."""
    same = Count.objects.filter(site=due.site, scope=due.scope, cabinet=due.cabinet, holder=due.holder)
    return same.filter(subject=due.subject).open().exists()


def _new(due: Due, number: int) -> Count:
    return Count(
        site=due.site,
        number=number,
        scope=due.scope,
        cabinet=due.cabinet,
        holder=due.holder,
        subject=due.subject,
        rule=due.rule,
        reason=Count.Reason.RULE,
        due_on=due.due_on,
    )


def _tell_all(site: Site, waiting: QuerySet[Count], today: date) -> None:
    """Once when a count is opened, and once in each week that it is late."""
    told = set(_told_at(site))
    untold = [count for count in waiting if _key(count, today) not in told]
    for piece in _pieces(untold):
        with transaction.atomic():
            for count in piece:
                _tell(count, today)
    late = waiting.filter(scope=Scope.HOLDER, due_on__lt=today).count()
    if late:
        _tell_of_holders(site, late, today)


def _told_at(site: Site) -> QuerySet[Notice, str]:
    notices = Notice.objects.filter(site=site, once_key__startswith="count-")
    return notices.values_list("once_key", flat=True)


def _key(count: Count, today: date) -> str:
    """Of the notice to the first who is told; the others have their own behind it."""
    return f"{_once(count, today)}:{'holder' if count.holder else 'told'}"


def _once(count: Count, today: date) -> str:
    return f"count-late:{count.pk}:{_week(today)}" if _is_late(count, today) else f"count-due:{count.pk}"


def _week(today: date) -> str:
    year, week, _ = today.isocalendar()
    return f"{year}-{week}"


def _is_late(count: Count, today: date) -> bool:
    return bool(count.due_on and count.due_on < today)


def _tell(count: Count, today: date) -> None:
    once = _once(count, today)
    if count.holder:
        _tell_holder(count, f"{once}:holder")
        return
    for place, user in enumerate(_keepers(count)):
        is_late = _is_late(count, today)
        send_notice(
            to=mail_of(user),
            name=user.display_name,
            kind="count-late" if is_late else "count-due",
            template="count_due",
            facts={"count": count, "site": count.site, "is_late": is_late},
            site=count.site,
            about=[count],
            once_key=f"{once}:{user.pk if place else 'told'}",
        )


def _tell_holder(count: Count, once_key: str) -> None:
    holder = count.holder
    assert holder  # noqa: S101 (the caller looked)
    user = holder.user or (holder.person.user if holder.person else None)
    send_notice(
        to=holder.email or mail_of(user),
        name=holder.name,
        kind="count-holder",
        template="count_holder",
        facts={"count": count, "site": count.site, "declares": user is not None},
        site=count.site,
        about=[count],
        once_key=once_key,
    )


@transaction.atomic
def _tell_of_holders(site: Site, late: int, today: date) -> None:
    """The desk reads one message a week about all holders that are late, not one of each."""
    for user in people_at(site, Role.KEY_DESK):
        send_notice(
            to=mail_of(user),
            name=user.display_name,
            kind="count-late",
            template="count_holders_late",
            facts={"site": site, "late": late},
            site=site,
            about=[site],
            once_key=f"count-holders:{site.pk}:{_week(today)}:{user.pk}",
        )


def _keepers(count: Count) -> Iterable[User]:
    """The custodian, or the desk where there is none and for everything else."""
    custodian = count.cabinet.custodian if count.cabinet else None
    return [custodian] if custodian else people_at(count.site, *COUNTERS)


@transaction.atomic
def _propose(cases: QuerySet[CountCase]) -> int:
    """A key is never declared lost by itself: the officer and the desk are told that somebody has to."""
    return sum(_propose_one(case) for case in cases)


def _propose_one(case: CountCase) -> bool:
    site = case.count.site
    told = [
        send_notice(
            to=mail_of(user),
            name=user.display_name,
            kind="count-missing",
            template="count_missing",
            facts={"case": case, "site": site},
            site=site,
            about=[case],
            once_key=f"count-missing:{case.pk}:{user.pk}",
        )
        for user in people_at(site, Role.OFFICER, Role.KEY_DESK)
    ]
    return any(told)


def _pieces(things: Sequence[Thing]) -> Iterable[Sequence[Thing]]:
    return (things[start : start + AT_ONCE] for start in range(0, len(things), AT_ONCE))
