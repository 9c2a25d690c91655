"""Two years of counting at the first site: yearly rounds, one that is late, one master nobody has found."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import new_event, record_many
from keyctl.counts.models import Count, CountCase, CountExpected, CountRule, CountScan
from keyctl.counts.selectors.keys import copies_to_count
from keyctl.counts.services import set_rule
from keyctl.counts.starting import UNIVERSITY
from keyctl.keys.models import Cabinet, KeyCopy
from keyctl.places.models import Site
from keyctl.places.roles import Role

Scope, Subject = Count.Scope, CountRule.Subject
BATCH = 2000
# Days since: the holders' round is young, so that not every holder is late at once.
RULED = {Subject.CABINETS: 729, Subject.MASTERS: 729, Subject.HOLDERS: 60}
# Days since each round, by what was counted; the second cabinet's last one is more than a year ago.
ROUNDS = ((Scope.CABINET, 0, (700, 340)), (Scope.CABINET, 1, (720, 390)), (Scope.KEYS, 0, (375, 9)))


@dataclass
class Round:
    """One count of the past, as it would have been closed."""

    site: Site
    people: dict[Role, User]
    days: int
    number: int

    @property
    def at(self) -> datetime:
        return timezone.now().replace(hour=9, minute=10) - timedelta(days=self.days)

    def close(self, scope: str, cabinet: Cabinet | None, rule: CountRule) -> Count:
        what: dict[str, Any] = {"scope": scope, "cabinet": cabinet}
        what["subject"] = "" if cabinet else Subject.MASTERS
        sought = Count(site=self.site, **what)
        copies = list(copies_to_count(sought).filter(cut_at__lt=self.at).select_related("cabinet", "holder"))
        missing = copies[:1] if self.days < 300 and scope == Scope.KEYS else []
        count = Count.objects.create(
            site=self.site,
            number=self.number,
            rule=rule,
            reason=Count.Reason.RULE,
            state=Count.State.CLOSED,
            due_on=timezone.localdate(self.at) + timedelta(days=6),
            opened_at=self.at - timedelta(days=8),
            started_at=self.at,
            counter=self.people[Role.LOCKSMITH],
            witness=self.people[Role.AUDITOR],
            witnessed_at=self.at + timedelta(minutes=35),
            needs_witness=rule.needs_witness,
            custodian=cabinet.custodian if cabinet else None,
            ended_at=self.at + timedelta(minutes=40),
            ended_by=self.people[Role.LOCKSMITH],
            expected_count=len(copies),
            sighted_count=len(copies) - len(missing),
            declared_count=0,
            handled_count=0,
            difference_count=len(missing),
            law_breaches=0,
            **what,
        )
        self._write(count, copies, missing)
        return count

    def _write(self, count: Count, copies: list[KeyCopy], missing: list[KeyCopy]) -> None:
        CountExpected.objects.bulk_create([_expected(count, copy) for copy in copies], batch_size=BATCH)
        seen = [copy for copy in copies if copy not in missing]
        CountScan.objects.bulk_create(
            [_scan(count, copy, nth) for nth, copy in enumerate(seen)], batch_size=BATCH
        )
        for copy in missing:
            _case(count, copy)


def build_counts(people: dict[Role, User]) -> None:
    site = Site.objects.order_by("code")[0]
    rules = {subject: _rule(site, people[Role.OFFICER], subject, days) for subject, days in RULED.items()}
    cabinets = list(site.cabinets.order_by("-name"))
    made: list[Count] = []
    for scope, place, rounds in ROUNDS:
        cabinet = cabinets[place] if scope == Scope.CABINET else None
        rule = rules[Subject.CABINETS if cabinet else Subject.MASTERS]
        for days in rounds:
            made.append(Round(site, people, days, len(made) + 1).close(scope, cabinet, rule))
    _explained(made[0], people)
    record_many(
        (
            new_event(
                actor=people[Role.LOCKSMITH],
                verb="count.closed",
                sentence=f"closed count {count.number} of {count.what}: {count.difference_count} differences",
                site_id=site.pk,
                at=count.ended_at,
            ),
            [count],
        )
        for count in made
    )


def _rule(site: Site, officer: User, subject: CountRule.Subject, days: int) -> CountRule:
    made_at = timezone.now() - timedelta(days=days)
    facts = {"source": UNIVERSITY.source, **UNIVERSITY.rules[subject]}
    return set_rule(actor=officer, site=site, subject=subject, made_at=made_at, **facts)


def _explained(count: Count, people: dict[Role, User]) -> None:
    """A key that was overlooked in the first round, found the next day and settled."""
    row = count.expected.select_related("copy").first()
    if row is None:
        return
    CountScan.objects.filter(count=count, copy=row.copy).delete()
    case = _case(count, row.copy)
    assert count.ended_at  # noqa: S101 (it is closed)
    case.state, case.how = CountCase.State.CLOSED, CountCase.How.OVERLOOKED
    case.note = "It hung behind another key on the same hook."
    case.explained_at, case.explained_by = count.ended_at + timedelta(days=1), people[Role.KEY_DESK]
    case.closed_at, case.closed_by = count.ended_at + timedelta(days=2), people[Role.OFFICER]
    case.save()
    count.difference_count, count.sighted_count = 1, (count.sighted_count or 1) - 1
    count.save(update_fields=["difference_count", "sighted_count"])


def _expected(count: Count, copy: KeyCopy) -> CountExpected:
    return CountExpected(
        count=count, copy=copy, copy_version=copy.version, cabinet=copy.cabinet, holder=copy.holder
    )


def _scan(count: Count, copy: KeyCopy, nth: int) -> CountScan:
    assert count.started_at  # noqa: S101 (it is closed)
    return CountScan(
        count=count,
        serial=copy.serial,
        copy=copy,
        by=count.counter,
        at=count.started_at + timedelta(seconds=4 * nth),
        register_state=copy.state,
        register_cabinet=copy.cabinet,
        register_holder=copy.holder,
    )


def _case(count: Count, copy: KeyCopy) -> CountCase:
    assert count.counter  # noqa: S101 (it is closed)
    assert count.ended_at  # noqa: S101
    return CountCase.objects.create(
        count=count,
        kind=CountCase.Kind.MISSING,
        serial=copy.serial,
        copy=copy,
        cabinet=copy.cabinet,
        holder=copy.holder,
        is_weighty=count.scope == Scope.KEYS,
        counted_by=count.counter,
        opened_at=count.ended_at,
    )
