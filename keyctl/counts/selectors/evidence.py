"""What a report of a period says: frozen values as of the moment it was asked for. No bitting, no symbol."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.counts.models import CabinetHandover, Count, CountCase, CountRule, EvidenceReport
from keyctl.counts.selectors.due import due_until, start_of
from keyctl.keys.models import Cabinet
from keyctl.keys.selectors import law_breaches
from keyctl.lib.days import day
from keyctl.lib.language import Text
from keyctl.places.models import Site

State = Count.State
ROWS_IN_A_TABLE = 60


@dataclass(frozen=True)
class CountLine:
    """One count that was due or done in the period; ``days_late`` is None where nothing was due."""

    number: int | None
    what: str
    why: Text
    due_on: date | None
    ended_at: datetime | None
    days_late: int | None
    is_done: bool
    outcome: str
    counter: str = ""
    witness: str = ""
    custodian: str = ""
    expected: int | None = None
    seen: int | None = None
    declared: int | None = None
    differences: int | None = None
    law_breaches: int | None = None


@dataclass(frozen=True)
class DifferenceLine:
    serial: str
    kind: str
    count: int
    found_at: datetime
    state: Text
    how: str
    explained_by: str
    closed: str


@dataclass(frozen=True)
class EvidenceSheet:
    number: str
    site: str
    from_on: date
    until_on: date
    made_by: str
    made_at: datetime
    rules: tuple[CountRule, ...]
    counts: tuple[CountLine, ...]
    differences: tuple[DifferenceLine, ...]
    handovers: tuple[CabinetHandover, ...]
    cabinets: tuple[Cabinet, ...]
    law_breaches: int

    @property
    def pieces(self) -> "list[tuple[CountLine, ...]]":
        """Tables of a page or two: one of thousands of rows takes the page setter many times as long."""
        starts = range(0, max(1, len(self.counts)), ROWS_IN_A_TABLE)
        return [self.counts[start : start + ROWS_IN_A_TABLE] for start in starts]

    @property
    def was_due(self) -> int:
        return self.in_time + self.late + self.not_done

    @property
    def in_time(self) -> int:
        return sum(line.is_done and line.days_late == 0 for line in self.counts)

    @property
    def late(self) -> int:
        return sum(line.is_done and bool(line.days_late) for line in self.counts)

    @property
    def not_done(self) -> int:
        """A count that was given up is not told twice: what was due by it waits on a line of its own."""
        return sum(not line.is_done and line.ended_at is None for line in self.counts)

    @property
    def unsettled(self) -> int:
        return sum(line.state != CountCase.State.CLOSED.label for line in self.differences)


def evidence_sheet(report: EvidenceReport) -> EvidenceSheet:
    """Everything is read as it stood when the report was asked for, so that its numbers agree."""
    site, begin, end = report.site, start_of(report.from_on), start_of(report.until_on + timedelta(days=1))
    end = min(end, report.asked_at)
    return EvidenceSheet(
        number=str(report),
        site=str(site),
        from_on=report.from_on,
        until_on=report.until_on,
        made_by=str(report.actor),
        made_at=timezone.localtime(report.asked_at),
        rules=tuple(_rules(site, begin, end)),
        counts=(*_done(report, begin, end), *_not_done(report)),
        differences=tuple(_difference(case, report.asked_at) for case in _cases(site, begin, end)),
        handovers=tuple(
            CabinetHandover.objects.filter(cabinet__site=site, made_at__gte=begin, made_at__lt=end)
            .select_related("cabinet", "count", "giver", "taker", "excused_by")
            .order_by("made_at")
        ),
        cabinets=tuple(Cabinet.objects.filter(site=site).select_related("custodian").order_by("name")),
        law_breaches=len(law_breaches(Site.objects.filter(pk=site.pk))),
    )


def _rules(site: Site, begin: datetime, end: datetime) -> list[CountRule]:
    """Every version that was in force at some moment of the period, oldest first."""
    versions = list(CountRule.objects.filter(site=site, made_at__lt=end).order_by("subject", "number"))
    followed = {(rule.subject, rule.number - 1): rule.made_at for rule in versions}
    in_force = [rule for rule in versions if followed.get((rule.subject, rule.number), end) > begin]
    return [rule for rule in in_force if not rule.is_ended]


def _ended(site: Site, begin: datetime, end: datetime) -> QuerySet[Count]:
    ended = Q(ended_at__gte=begin, ended_at__lt=end)
    owed = Q(due_on__gte=timezone.localdate(begin), due_on__lt=timezone.localdate(end), ended_at__lt=end)
    counts = Count.objects.filter(ended | owed, site=site, state__in=[State.CLOSED, State.CANCELLED])
    return counts.with_names().select_related("custodian").order_by("ended_at", "number")


def _done(report: EvidenceReport, begin: datetime, end: datetime) -> list[CountLine]:
    return [_line(count) for count in _ended(report.site, begin, end)]


def _line(count: Count) -> CountLine:
    ended_on = timezone.localdate(count.ended_at) if count.ended_at else None
    is_done = count.state == State.CLOSED
    late = max(0, (ended_on - count.due_on).days) if count.due_on and ended_on and is_done else None
    return CountLine(
        number=count.number,
        what=count.what,
        why=count.get_reason_display(),
        due_on=count.due_on,
        ended_at=count.ended_at,
        days_late=late,
        is_done=is_done,
        outcome=count.get_state_display() if is_done else _("Given up: {note}").format(note=count.note),
        counter=str(count.counter or ""),
        witness=str(count.witness or "") if count.witnessed_at else "",
        custodian=str(count.custodian or ""),
        expected=count.expected_count,
        seen=count.sighted_count,
        declared=count.declared_count,
        differences=count.difference_count,
        law_breaches=count.law_breaches,
    )


def _not_done(report: EvidenceReport) -> list[CountLine]:
    """What was due by the end of the period and is not counted, whether a count was opened for it or not."""
    today = timezone.localdate(report.asked_at)
    return [
        CountLine(
            number=due.count.number if due.count else None,
            what=due.label,
            why=due.count.get_reason_display() if due.count else Count.Reason.RULE.label,
            due_on=due.due_on,
            ended_at=None,
            days_late=max(0, (today - due.due_on).days),
            is_done=False,
            outcome=_("Not counted"),
            custodian=str(due.cabinet.custodian or "") if due.cabinet else "",
        )
        for due in due_until([report.site], report.until_on)
    ]


def _cases(site: Site, begin: datetime, end: datetime) -> QuerySet[CountCase]:
    cases = CountCase.objects.filter(count__site=site, opened_at__gte=begin, opened_at__lt=end)
    return cases.with_names().order_by("opened_at", "serial", "kind")


def _difference(case: CountCase, at: datetime) -> DifferenceLine:
    """As it stood at the moment: what was explained or closed later is not told."""
    is_closed = bool(case.closed_at and case.closed_at <= at)
    is_explained = bool(case.explained_at and case.explained_at <= at)
    state = CountCase.State.CLOSED if is_closed else CountCase.State.OPEN
    return DifferenceLine(
        serial=case.label,
        kind=case.get_kind_display(),
        count=case.count.number,
        found_at=case.opened_at,
        state=CountCase.State.EXPLAINED.label if is_explained and not is_closed else state.label,
        how=f"{case.get_how_display()}: {case.note}" if is_explained else "",
        explained_by=str(case.explained_by) if is_explained else "",
        closed=f"{case.closed_by}, {day(timezone.localtime(case.closed_at))}" if is_closed else "",
    )
