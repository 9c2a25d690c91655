"""Due days as a calendar (RFC 5545). Calendars are copied to places we do not know: no key, door or name."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar, Event

from keyctl.desk.access import may_feed
from keyctl.desk.models import CalendarFeed
from keyctl.keys.models import Custody
from keyctl.lib.moments import ends_its_day

ASKED_AGAIN_AFTER = timedelta(hours=4)
MOMENT_LASTS = timedelta(minutes=15)


@dataclass(frozen=True)
class DueKeys:
    """Keys that are due at one moment, or on one day, at one site."""

    name: str
    when: date | datetime
    count: int
    changed_at: datetime
    path: str


def calendar_of(feed: CalendarFeed) -> bytes:
    host = urlsplit(settings.BASE_URL).hostname or "localhost"
    calendar = Calendar()
    calendar.add("prodid", "-//keyctl//Due keys//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", _title(feed))
    # RFC 7986: how often it is worth asking.
    calendar.add("refresh-interval", ASKED_AGAIN_AFTER, parameters={"VALUE": "DURATION"})
    for due in sorted(due_keys(feed), key=lambda due: due.name):
        calendar.add_component(_event(due, host))
    text: bytes = calendar.to_ical()
    return text


def due_keys(feed: CalendarFeed) -> list[DueKeys]:
    if feed.site:
        lines = (
            _out().filter(copy__site=feed.site) if may_feed(feed.user, feed.site) else Custody.objects.none()
        )
        return _grouped(lines, reverse("keys:desk"))
    own = _out().filter(Q(holder__user=feed.user) | Q(holder__person__user=feed.user))
    by_holder: defaultdict[str, list[Custody]] = defaultdict(list)
    for line in own:
        by_holder[reverse("keys:holder", args=[line.holder_id])].append(line)
    return [due for path, lines in by_holder.items() for due in _grouped(lines, path)]


def _out() -> QuerySet[Custody]:
    return Custody.objects.filter(ended_at__isnull=True, due_at__isnull=False)


def _grouped(lines: Iterable[Custody], path: str) -> list[DueKeys]:
    """One entry for all that is due at one moment: a ring of keys is one thing to bring back."""
    groups: defaultdict[date | datetime, list[Custody]] = defaultdict(list)
    for line in lines:
        if line.due_at:
            groups[_when(line.due_at)].append(line)
    return [_due(when, group, path) for when, group in groups.items()]


def _due(when: date | datetime, lines: list[Custody], path: str) -> DueKeys:
    name = f"{path.strip('/').replace('/', '-')}-{when.isoformat()}"
    return DueKeys(name, when, len(lines), max(line.out_at for line in lines), path)


def _when(moment: datetime) -> date | datetime:
    """A whole day is an entry of the day, in the house's own time; a moment stands in universal time."""
    return timezone.localdate(moment) if ends_its_day(moment) else moment.astimezone(UTC)


def _event(due: DueKeys, host: str) -> Event:
    event = Event()
    event.add("uid", f"{due.name}@{host}")
    event.add("dtstamp", due.changed_at.astimezone(UTC).replace(microsecond=0))
    event.add("summary", "Key due back" if due.count == 1 else f"{due.count} keys due back")
    event.add("dtstart", due.when)
    is_moment = isinstance(due.when, datetime)
    event.add("dtend", due.when + (MOMENT_LASTS if is_moment else timedelta(days=1)))
    event.add("url", f"{settings.BASE_URL}{due.path}")
    # An entry takes no time from anybody's day.
    event.add("transp", "TRANSPARENT")
    return event


def _title(feed: CalendarFeed) -> str:
    return f"Keys due at {feed.site}" if feed.site else "My keys due back"
