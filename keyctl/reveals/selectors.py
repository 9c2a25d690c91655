"""What somebody may see now, how much of the quota is used, and what was asked and seen."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Count, F, Q, QuerySet
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.places.models import Site
from keyctl.reveals.access import deciding_sites, seeing_sites
from keyctl.reveals.models import Limits, Permission, Reveal

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LOOKS_LAST, MORE = Permission.LOOKS_LAST, Permission.MORE

By = Reveal.By
State = Permission.State


@dataclass(frozen=True)
class Quota:
    """Looks within the last hour and the last day, against what the site lets one person."""

    is_work: bool
    hour: int
    day: int
    an_hour: int
    a_day: int
    # When the next place comes free, where none is left.
    free_at: datetime | None = None

    @property
    def left(self) -> int:
        return max(0, min(self.an_hour - self.hour, self.a_day - self.day))


@dataclass(frozen=True)
class SiteQuota:
    site: Site
    alone: Quota
    at_work: Quota


def limits_at(site: Site) -> Limits:
    return Limits.objects.filter(site=site).first() or Limits(site=site)


def strictest(sites: Iterable[Site]) -> Limits:
    """A thing that several sites share is under the narrowest of their limits."""
    found = [limits_at(site) for site in sites]
    names = ("alone_an_hour", "alone_a_day", "at_work_an_hour", "at_work_a_day")
    return Limits(**{name: min(getattr(each, name) for each in found) for name in names})


def quota_of(actor: User, limits: Limits, *, is_work: bool, now: datetime) -> Quota:
    """Counted at every site together: whoever works at two has no two quotas. What an officer let go beyond
    the quota stands in that permission's own number."""
    seen = Reveal.objects.filter(actor=actor, more__isnull=True, at__gt=now - DAY)
    seen = seen.filter(by=By.WORK) if is_work else seen.exclude(by=By.WORK)
    counts = seen.aggregate(day=Count("pk"), hour=Count("pk", filter=Q(at__gt=now - HOUR)))
    an_hour = limits.at_work_an_hour if is_work else limits.alone_an_hour
    a_day = limits.at_work_a_day if is_work else limits.alone_a_day
    return Quota(
        is_work, counts["hour"], counts["day"], an_hour, a_day, _free_at(seen, counts, (an_hour, a_day), now)
    )


def _free_at(
    seen: QuerySet[Reveal], counts: dict[str, int], most: tuple[int, int], now: datetime
) -> datetime | None:
    """When enough of the looks that count have grown old."""
    moments = seen.order_by("at").values_list("at", flat=True)
    free = []
    if counts["hour"] >= most[0]:
        free.append(moments.filter(at__gt=now - HOUR)[counts["hour"] - most[0]] + HOUR)
    if counts["day"] >= most[1]:
        free.append(moments[counts["day"] - most[1]] + DAY)
    return max(free, default=None)


def quotas_of(actor: User) -> list[SiteQuota]:
    now = timezone.now()
    found = []
    for site in seeing_sites(actor):
        limits = limits_at(site)
        alone, at_work = (quota_of(actor, limits, is_work=is_work, now=now) for is_work in (False, True))
        found.append(SiteQuota(site, alone, at_work))
    return found


def open_permissions(actor: User, now: datetime) -> QuerySet[Permission]:
    """Granted to the person, and not at an end."""
    granted = Permission.objects.filter(asked_by=actor, state=State.GRANTED, until__gt=now)
    looked_at_lately = Q(used_at__isnull=True) | Q(used_at__gt=now - LOOKS_LAST) | Q(kind=MORE)
    return granted.filter(looked_at_lately).with_names().order_by("until")


def permissions_for(actor: User, things: Iterable[tuple[str, UUID]], now: datetime) -> dict[UUID, Permission]:
    """By the thing; the one that lasts longest where there are several."""
    wanted = dict.fromkeys(things)
    rows = open_permissions(actor, now).filter(subject_id__in=[pk for _, pk in wanted])
    return {each.subject_id: each for each in rows if (each.kind, each.subject_id) in wanted}


def more_left(actor: User, sites: Iterable[Site], now: datetime) -> list[tuple[Permission, int]]:
    """What officers let go beyond the quota at these sites, and how much of it is left."""
    rows = open_permissions(actor, now).filter(kind=MORE, subject_id__in=[site.pk for site in sites])
    counted = rows.annotate(used=Count("reveals_beyond")).filter(count__gt=F("used"))
    return [(each, (each.count or 0) - each.used) for each in counted]


def asked_by(actor: User) -> QuerySet[Permission]:
    return Permission.objects.filter(asked_by=actor).with_names()


def waiting_for(actor: User) -> QuerySet[Permission]:
    """What the person may decide: nobody decides what they asked for."""
    waiting = Permission.objects.filter(state=State.ASKED, site__in=deciding_sites(actor))
    return waiting.exclude(asked_by=actor).with_names().order_by("asked_at")


def standing_at(actor: User, now: datetime) -> QuerySet[Permission]:
    """What others may see now by the person's office."""
    rows = Permission.objects.filter(state=State.GRANTED, until__gt=now, site__in=deciding_sites(actor))
    return rows.with_names().order_by("until")
