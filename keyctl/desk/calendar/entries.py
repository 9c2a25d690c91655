"""What stands in a calendar. Calendars are copied to places we do not know: no key, door or name."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from urllib.parse import urlsplit
from uuid import UUID

from django.conf import settings
from django.db.models import Max, Model
from django.utils import timezone
from icalendar import Calendar, Event

from keyctl.audit.models import EventSubject
from keyctl.lib.moments import ends_its_day

ASKED_AGAIN_AFTER = timedelta(hours=4)
MOMENT_LASTS = timedelta(minutes=15)


@dataclass(frozen=True)
class Entry:
    """``name`` is its own for good: a calendar knows by it that an entry has moved."""

    name: str
    when: date | datetime
    summary: str
    changed_at: datetime
    path: str


def write_calendar(title: str, entries: Iterable[Entry]) -> bytes:
    host = urlsplit(settings.BASE_URL).hostname or "localhost"
    calendar = Calendar()
    calendar.add("prodid", "-//keyctl//Due days//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", title)
    # RFC 7986: how often it is worth asking.
    calendar.add("refresh-interval", ASKED_AGAIN_AFTER, parameters={"VALUE": "DURATION"})
    for entry in sorted(entries, key=lambda entry: entry.name):
        calendar.add_component(_event(entry, host))
    text: bytes = calendar.to_ical()
    return text


def when_of(moment: datetime) -> date | datetime:
    """A whole day is an entry of the day, in the house's own time; a moment stands in universal time."""
    return timezone.localdate(moment) if ends_its_day(moment) else moment.astimezone(UTC)


def last_changes(things: Iterable[Model]) -> dict[UUID, datetime]:
    """When history last spoke of each; things of one model."""
    found = list(things)
    if not found:
        return {}
    told = EventSubject.objects.filter(
        kind=found[0]._meta.label_lower, subject_id__in=[each.pk for each in found]
    )
    return dict(told.values("subject_id").annotate(at=Max("event__at")).values_list("subject_id", "at"))


def _event(entry: Entry, host: str) -> Event:
    event = Event()
    event.add("uid", f"{entry.name}@{host}")
    event.add("dtstamp", entry.changed_at.astimezone(UTC).replace(microsecond=0))
    event.add("summary", entry.summary)
    event.add("dtstart", entry.when)
    is_moment = isinstance(entry.when, datetime)
    event.add("dtend", entry.when + (MOMENT_LASTS if is_moment else timedelta(days=1)))
    event.add("url", f"{settings.BASE_URL}{entry.path}")
    # An entry takes no time from anybody's day.
    event.add("transp", "TRANSPARENT")
    return event
