"""People as a directory tells of them, and five who leave: a master still out, one paused, one done."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import new_event, record_many
from keyctl.directory.models import DirectoryEntry
from keyctl.keys.models import Holder, KeyCopy, Person
from keyctl.leavers.models import LeaverCase, Reminder
from keyctl.places.models import Site
from keyctl.places.roles import Role

DEPARTMENTS = ("Facilities", "Library", "Physics", "Law", "Sports")


@dataclass(frozen=True)
class Leaver:
    """Days since it was told, and how it stands."""

    days: int
    reminded: int
    last_day_in: int | None = None
    is_paused: bool = False
    is_closed: bool = False


# The first holds a master; the last has brought all back.
LEAVERS = (
    Leaver(days=16, reminded=3),
    Leaver(days=4, reminded=1, is_paused=True),
    Leaver(days=1, reminded=0),
    Leaver(days=2, reminded=0, last_day_in=12),
    Leaver(days=30, reminded=2, is_closed=True),
)


def build_leavers(people: dict[Role, User]) -> None:
    site = Site.objects.order_by("code")[0]
    _describe()
    cases = [_case(holder, leaver, people) for holder, leaver in zip(_chosen(site), LEAVERS, strict=False)]
    made = LeaverCase.objects.bulk_create(cases)
    Reminder.objects.bulk_create(reminder for case in made for reminder in _reminders(case))
    record_many(
        (
            new_event(
                actor=people[Role.KEY_DESK],
                verb="leaver.opened",
                sentence=f"opened the case of {case.holder}",
                site_id=site.pk,
                at=case.opened_at,
            ),
            [case, case.holder],
        )
        for case in made
    )


def _describe() -> None:
    """Departments and entries for everybody; half of them came by a list."""
    persons = list(Person.objects.filter(entry=None).order_by("display_name", "pk"))
    for number, person in enumerate(persons):
        person.department = person.department or DEPARTMENTS[number % len(DEPARTMENTS)]
    Person.objects.bulk_update(persons, ["department"], batch_size=500)
    sources = (DirectoryEntry.Source.SCIM, DirectoryEntry.Source.TABLE)
    DirectoryEntry.objects.bulk_create(
        [
            DirectoryEntry(person=person, source=sources[number % 2], employee_number=f"P{number + 1000}")
            for number, person in enumerate(persons)
        ],
        batch_size=500,
    )


def _chosen(site: Site) -> list[Holder]:
    """Somebody with a master first, then others with keys, and one who has none."""
    free = Holder.objects.filter(site=site, user=None, is_active=True, person__isnull=False)
    held = KeyCopy.objects.filter(site=site, holder__in=free).exclude(symbol__kind="control")
    masters = list(
        free.filter(pk__in=held.filter(symbol__kind="master").values("holder")).order_by("name")[:1]
    )
    others = free.filter(pk__in=held.values("holder")).exclude(pk__in=[holder.pk for holder in masters])
    return [
        *masters,
        *others.order_by("name")[: 4 - len(masters)],
        *free.filter(copies=None).order_by("name")[:1],
    ]


def _case(holder: Holder, leaver: Leaver, people: dict[Role, User]) -> LeaverCase:
    now = timezone.now()
    case = LeaverCase(
        holder=holder,
        why=LeaverCase.Why.HAND if leaver.last_day_in else LeaverCase.Why.SCIM,
        opened_at=now - timedelta(days=leaver.days),
        opened_by=people[Role.KEY_DESK],
        reminded=leaver.reminded,
    )
    if leaver.last_day_in:
        case.leaves_on = timezone.localdate() + timedelta(days=leaver.last_day_in)
    else:
        _leave(holder)
    if leaver.is_paused:
        case.paused_until = timezone.localdate() + timedelta(days=10)
        case.pause_reason, case.paused_by = "In hospital; a colleague brings the keys", people[Role.KEY_DESK]
    _end_or_go_on(case, leaver, people, now)
    return case


def _end_or_go_on(case: LeaverCase, leaver: Leaver, people: dict[Role, User], now: datetime) -> None:
    if not leaver.is_closed or KeyCopy.objects.filter(holder=case.holder).exists():
        case.next_reminder_at = now + timedelta(days=3)
        return
    case.state, case.outcome = LeaverCase.State.CLOSED, LeaverCase.Outcome.BACK
    case.closed_at, case.closed_by = now - timedelta(days=9), people[Role.KEY_DESK]


def _reminders(case: LeaverCase) -> list[Reminder]:
    """What went out so far, a week apart."""
    at = [case.opened_at + timedelta(days=7 * number, minutes=5) for number in range(case.reminded)]
    return [
        Reminder(case=case, kind=Reminder.Kind.REMINDER, at=each, to_name=case.holder.name) for each in at
    ]


def _leave(holder: Holder) -> None:
    Holder.objects.filter(person=holder.person).update(is_active=False)
    Person.objects.filter(holders=holder).update(is_active=False)
    holder.is_active = False
