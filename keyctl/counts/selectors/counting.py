"""Reading counts: what runs, what is done, what was scanned; never what should be there before the end."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, QuerySet

from keyctl.accounts.models import User
from keyctl.counts.access import count_sites, visible_counts
from keyctl.counts.models import CabinetHandover, Count, CountCase, CountExpected, CountScan
from keyctl.counts.selectors.due import SHOWN_AHEAD, Due, due_until
from keyctl.keys.models import KeyCopy

LAST_SHOWN = 5
Way, State = CountScan.Way, Count.State


@dataclass(frozen=True)
class Tally:
    """What the counter sees while counting: how many, and the last few serials."""

    count: int
    last: list[CountScan]
    declared: int


@dataclass(frozen=True)
class Overview:
    due: list[Due]
    running: QuerySet[Count]
    done: QuerySet[Count]
    open_cases: int

    def late(self, today: date) -> int:
        return sum(due.is_late(today) for due in self.due)


def overview(actor: User, today: date) -> Overview:
    """What is due within a month or late, what is being counted, and what was."""
    counts = visible_counts(actor)
    waiting = due_until(count_sites(actor), today + SHOWN_AHEAD)
    return Overview(
        due=[due for due in waiting if due.count is None or due.count.state == State.DUE],
        running=counts.filter(state=State.RUNNING).order_by("started_at"),
        done=counts.filter(state__in=[State.CLOSED, State.CANCELLED]).order_by("-ended_at"),
        open_cases=CountCase.objects.filter(count__site__in=count_sites(actor))
        .exclude(state="closed")
        .count(),
    )


def tally(count: Count) -> Tally:
    scans = CountScan.objects.filter(count=count, undone_at__isnull=True)
    seen = scans.filter(way=Way.SIGHTED)
    return Tally(seen.count(), list(seen[:LAST_SHOWN]), scans.filter(way=Way.DECLARED).count())


def sought(count: Count) -> QuerySet[CountExpected]:
    """The keys that a count by serial looks for, with where they are and whether they were seen."""
    seen = CountScan.objects.filter(
        count=count, copy=OuterRef("copy"), undone_at__isnull=True, way=Way.SIGHTED
    )
    rows = CountExpected.objects.filter(count=count).select_related("copy__symbol", "cabinet", "holder")
    return rows.annotate(is_seen=Exists(seen)).order_by("is_seen", "copy__serial")


def cases_of(count: Count) -> QuerySet[CountCase]:
    return CountCase.objects.filter(count=count).with_names().order_by("kind", "serial")


def keys_to_declare(count: Count) -> QuerySet[KeyCopy]:
    """What the holder has by the register and has not declared in this count yet."""
    said = CountScan.objects.filter(count=count, way=Way.DECLARED, undone_at__isnull=True)
    held = KeyCopy.objects.filter(holder=count.holder).order_by("serial")
    return held.exclude(pk__in=said.filter(copy__isnull=False).values("copy"))


def open_handovers(handovers: QuerySet[CabinetHandover]) -> QuerySet[CabinetHandover]:
    return handovers.filter(done_at__isnull=True).order_by("made_at")
