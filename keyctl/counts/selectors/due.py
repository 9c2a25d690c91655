"""When what is to be counted next: from the rules in force and the last count that was closed."""

from calendar import monthrange
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID

from django.db.models import Max, Min, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.counts.models import Count, CountRule
from keyctl.counts.selectors.rules import began_at, rules_in_force
from keyctl.keys.models import Cabinet, Holder
from keyctl.places.models import Site

Subject, Scope, State = CountRule.Subject, Count.Scope, Count.State
# The routine opens a count so long before its day, so that there is time to do it.
LEAD = timedelta(days=14)
SHOWN_AHEAD = timedelta(days=30)


@dataclass(frozen=True)
class Due:
    """One thing that has to be counted by a day; ``count`` is the open one, if there is."""

    site: Site
    scope: str
    label: str
    due_on: date
    rule: CountRule | None = None
    last_at: datetime | None = None
    cabinet: Cabinet | None = None
    holder: Holder | None = None
    subject: str = ""
    count: Count | None = None

    def is_late(self, today: date) -> bool:
        return self.due_on < today


def months_after(day: date, months: int) -> date:
    """
    >>> months_after(date(2031, 8, 31), 6), months_after(date(2031, 3, 15), 12)
    (datetime.date(2032, 2, 29), datetime.date(2032, 3, 15))
    """
    years, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def due_until(sites: Iterable[Site], until: date) -> list[Due]:
    """Everything to be counted by that day, the longest due first."""
    found = [due for site in sites for due in _due_at(site, until)]
    return sorted(found, key=lambda due: (due.due_on, due.site.code, due.label))


def due_day(count: Count, rule: CountRule) -> date:
    """When the rule asks for this count; for one that was begun before the nightly round opened it."""
    begun = began_at(CountRule.objects.filter(site=count.site))[rule.subject]
    same = (count.cabinet_id, count.holder_id)
    found = (due for due in _of_rule(rule, begun) if _of_what(due) == same)
    # A holder without keys is asked for nothing; they may be counted all the same.
    return next((due.due_on for due in found), _due_on(rule, timezone.now()))


def _of_what(due: Due) -> tuple[UUID | None, UUID | None]:
    return due.cabinet.pk if due.cabinet else None, due.holder.pk if due.holder else None


def _due_at(site: Site, until: date) -> Iterator[Due]:
    rules = rules_in_force(site)
    begun = began_at(CountRule.objects.filter(site=site))
    listed: set[UUID] = set()
    for subject, rule in rules.items():
        for due in _of_rule(rule, begun[subject]):
            if due.count:
                listed.add(due.count.pk)
            if due.due_on <= until:
                yield due
    yield from _opened_without_rule(site, listed, until)


def _of_rule(rule: CountRule, begun: datetime) -> Iterator[Due]:
    if rule.subject == Subject.CABINETS:
        yield from _cabinets_due(rule, begun)
    elif rule.subject == Subject.HOLDERS:
        yield from _holders_due(rule, begun)
    else:
        yield _serials_due(rule, begun)


def _cabinets_due(rule: CountRule, begun: datetime) -> Iterator[Due]:
    opened = _open_counts(rule.site, "cabinet")
    cabinets = Cabinet.objects.filter(site=rule.site).select_related("site", "custodian")
    for cabinet in cabinets.annotate(last_at=_last_closed("counts")):
        due_on = _due_on(rule, cabinet.last_at or begun)
        count = opened.get(cabinet.pk)
        yield Due(
            site=rule.site,
            scope=Scope.CABINET,
            label=str(cabinet),
            due_on=_sooner(due_on, count),
            rule=rule,
            last_at=cabinet.last_at,
            cabinet=cabinet,
            count=count,
        )


def _holders_due(rule: CountRule, begun: datetime) -> Iterator[Due]:
    """Holders that have keys. Who got the first of them after the last count is due an interval later."""
    opened = _open_counts(rule.site, "holder")
    first_out = Min("custodies__out_at", filter=Q(custodies__ended_at__isnull=True))
    holders = Holder.objects.filter(site=rule.site).annotate(since=first_out).filter(since__isnull=False)
    last = dict(
        Count.objects.filter(site=rule.site, scope=Scope.HOLDER, state=State.CLOSED)
        .order_by()
        .values_list("holder")
        .annotate(Max("ended_at"))
    )
    for holder in holders.select_related("site"):
        last_at = last.get(holder.pk)
        count = opened.get(holder.pk)
        yield Due(
            site=rule.site,
            scope=Scope.HOLDER,
            label=_("keys of {holder}").format(holder=holder),
            due_on=_sooner(_due_on(rule, last_at or max(begun, holder.since)), count),
            rule=rule,
            last_at=last_at,
            holder=holder,
            count=count,
        )


def _serials_due(rule: CountRule, begun: datetime) -> Due:
    counts = Count.objects.filter(site=rule.site, scope=Scope.KEYS, subject=rule.subject)
    last_at = counts.filter(state=State.CLOSED).aggregate(last=Max("ended_at"))["last"]
    count = counts.open().with_names().first()
    return Due(
        site=rule.site,
        scope=Scope.KEYS,
        label=Count(scope=Scope.KEYS, subject=rule.subject).what,
        due_on=_sooner(_due_on(rule, last_at or begun), count),
        rule=rule,
        last_at=last_at,
        subject=rule.subject,
        count=count,
    )


def _opened_without_rule(site: Site, listed: set[UUID], until: date) -> Iterator[Due]:
    """Counts that wait though no rule in force asks for them: a change of custodian, an ended rule."""
    waiting = Count.objects.filter(site=site, state=State.DUE, due_on__lte=until).exclude(pk__in=listed)
    for count in waiting.with_names():
        assert count.due_on  # noqa: S101 (the question asked for a day)
        yield Due(
            site=site,
            scope=count.scope,
            label=count.what,
            due_on=count.due_on,
            rule=count.rule,
            cabinet=count.cabinet,
            holder=count.holder,
            subject=count.subject,
            count=count,
        )


def _due_on(rule: CountRule, since: datetime) -> date:
    return months_after(timezone.localdate(since), rule.interval_months)


def _sooner(due_on: date, count: Count | None) -> date:
    """An open count may be due sooner than the rule says, for a new custodian."""
    return min(due_on, count.due_on) if count and count.due_on else due_on


def _last_closed(path: str) -> Max:
    return Max(f"{path}__ended_at", filter=Q(**{f"{path}__state": State.CLOSED}))


def _open_counts(site: Site, field: str) -> Mapping[UUID, Count]:
    counts: QuerySet[Count] = Count.objects.filter(site=site).open().with_names()
    found = counts.filter(**{f"{field}__isnull": False})
    return {getattr(count, f"{field}_id"): count for count in found}


def start_of(day: date) -> datetime:
    """Midnight at the beginning of a day, in the time of the pages."""
    return timezone.make_aware(datetime.combine(day, time.min))
