"""Rules are versions; what is due follows from them and the last closed count, reckoned independently."""

from datetime import UTC, date, datetime, timedelta
from random import Random

import pytest
from dateutil.relativedelta import relativedelta  # type: ignore[import-untyped]
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from keyctl.counts import services
from keyctl.counts.models import Count, CountRule
from keyctl.counts.routine import open_due_counts
from keyctl.counts.selectors.due import due_until, months_after
from keyctl.counts.selectors.rules import rule_for, rules_in_force
from keyctl.counts.starting import SETS
from keyctl.lib.errors import Conflict, Refused
from keyctl.notices.models import Notice
from tests import factories
from tests.keyctl.counts.countroom import CountRoom

FAR = date(2999, 1, 1)


def test_months_are_added_as_a_calendar_library_does() -> None:
    rng = Random(1)
    for _ in range(5000):
        day, months = date(2000, 1, 1) + timedelta(days=rng.randrange(150_000)), rng.randint(1, 60)
        assert months_after(day, months) == day + relativedelta(months=months)


def test_a_rule_is_never_edited(room: CountRoom) -> None:
    first = room.rule(months=12)
    second = room.rule(months=6)
    assert (first.number, second.number) == (1, 2)
    assert rule_for(room.site, "cabinets") == second
    assert rule_for(room.site, "cabinets", first.made_at) == first
    with pytest.raises(TypeError, match="append-only"):
        first.save()


def test_a_rule_changed_meanwhile_is_told(room: CountRoom) -> None:
    room.rule()
    with pytest.raises(Conflict, match="was changed while you looked"):
        room.rule(months=3, seen=0)


def test_an_ended_rule_asks_for_nothing(room: CountRoom) -> None:
    room.rule()
    services.end_rule(actor=room.cast.officer, site=room.site, subject="cabinets")
    assert rules_in_force(room.site) == {}
    assert due_until([room.site], FAR) == []
    with pytest.raises(Refused, match="there is none to end"):
        services.end_rule(actor=room.cast.officer, site=room.site, subject="cabinets")


@pytest.mark.parametrize("person", ["locksmith", "desk", "manager", "auditor", "requester"])
def test_officers_and_administrators_set_rules_and_nobody_else(room: CountRoom, person: str) -> None:
    with pytest.raises(PermissionDenied):
        services.adopt_set(actor=room.cast.everybody[person], site=room.site, name="nist")


@pytest.mark.parametrize("name", sorted(SETS))
def test_a_set_becomes_the_sites_rules_each_with_its_source(room: CountRoom, name: str) -> None:
    services.adopt_set(actor=room.cast.administrator, site=room.site, name=name)
    rules = rules_in_force(room.site)
    assert set(rules) == set(SETS[name].rules)
    assert {rule.source for rule in rules.values()} == {SETS[name].source}


# As published: FedRAMP's value for PE-3 f is "at least annually"; AR 190-11 says semiannually.
@pytest.mark.parametrize(("name", "months"), [("nist", 12), ("army", 6), ("university", 12)])
def test_the_intervals_are_the_published_ones(name: str, months: int) -> None:
    assert {facts["interval_months"] for facts in SETS[name].rules.values()} == {months}


def test_a_cabinet_is_due_an_interval_after_its_last_closed_count(room: CountRoom) -> None:
    rule = room.rule(months=6)
    count = room.close(room.begin())
    Count.objects.filter(pk=count.pk).update(ended_at=datetime(2031, 8, 31, 12, tzinfo=UTC))
    due = {each.cabinet: each.due_on for each in due_until([room.site], FAR)}
    begun = timezone.localdate(rule.made_at)
    assert due == {room.cabinet: date(2032, 2, 29), room.other: begun + relativedelta(months=6)}


def test_a_changed_value_does_not_put_the_first_count_off(room: CountRoom) -> None:
    room.rule(months=12)
    CountRule.objects.all()._raw_delete("default")
    old = timezone.now() - timedelta(days=300)
    room.rule(months=12, made_at=old)
    room.rule(months=12, needs_witness=True)
    (first, _) = due_until([room.site], FAR)
    assert first.due_on == timezone.localdate(old) + relativedelta(months=12)


def test_only_holders_with_keys_are_due(room: CountRoom) -> None:
    room.rule("holders")
    factories.make_holder(room.site)
    room.give(room.stock(1)[0])
    assert [each.holder for each in due_until([room.site], FAR)] == [room.holder]


def test_a_given_up_count_leaves_it_due(room: CountRoom) -> None:
    room.rule(months=12)
    before = due_until([room.site], FAR)[0].due_on
    services.cancel_count(actor=room.desk, count=room.begin(), note="Fire alarm")
    assert due_until([room.site], FAR)[0].due_on == before


def ahead(days: int) -> datetime:
    return timezone.now() + timedelta(days=days)


def test_the_routine_opens_what_is_due_once_and_tells_the_custodian(room: CountRoom) -> None:
    room.rule(months=1)
    room.cabinet.custodian = room.cast.manager
    room.cabinet.save()
    sentence = open_due_counts(ahead(20))
    assert sentence == "Counts opened: 2, late: 0, missing keys proposed as lost: 0."
    assert open_due_counts(ahead(20)).startswith("Counts opened: 0,")
    due = Count.objects.get(cabinet=room.cabinet)
    assert (due.state, due.reason) == ("due", "rule")
    told = Notice.objects.filter(kind="count-due")
    assert {notice.name for notice in told} == {"Manager", "Desk", "Locksmith"}


def test_what_is_late_is_said_once_a_week(room: CountRoom) -> None:
    room.rule(months=1)
    monday = ahead(60) - timedelta(days=ahead(60).weekday())
    open_due_counts(monday)
    late = Notice.objects.filter(kind="count-late").count()
    assert late == 4
    open_due_counts(monday + timedelta(days=1))
    assert Notice.objects.filter(kind="count-late").count() == late
    open_due_counts(monday + timedelta(days=7))
    assert Notice.objects.filter(kind="count-late").count() == 2 * late


def test_a_holder_is_asked_by_mail_to_say_what_they_have(room: CountRoom) -> None:
    room.rule("holders", months=1)
    holder = factories.make_holder(room.site, user=room.cast.requester, email="r@example.org")
    copy = room.give(room.stock(1)[0], holder)
    open_due_counts(ahead(20))
    notice = Notice.objects.get(kind="count-holder")
    assert notice.to == "r@example.org"
    assert "/counts/mine/" in notice.body
    assert copy.serial not in notice.body


def test_a_missing_key_is_proposed_once_to_officer_and_desk(room: CountRoom) -> None:
    room.rule(missing_days=3)
    case = room.missing()
    assert "missing keys proposed as lost: 1." in open_due_counts(ahead(4))
    assert "missing keys proposed as lost: 0." in open_due_counts(ahead(5))
    told = Notice.objects.filter(kind="count-missing")
    assert {notice.name for notice in told} == {"Officer", "Desk"}
    assert not any(case.serial in notice.body for notice in told)


def test_a_count_begun_by_hand_when_it_is_due_is_the_one_that_was_due(room: CountRoom) -> None:
    old = timezone.now() - timedelta(days=400)
    room.rule(months=12, made_at=old)
    count = room.begin()
    assert (count.due_on, count.reason) == (timezone.localdate(old) + relativedelta(months=12), "rule")


def test_a_count_long_before_its_day_is_by_hand(room: CountRoom) -> None:
    room.rule(months=12)
    room.rule("holders", months=12)
    assert (room.begin().due_on, room.begin(scope="holder", holder=room.holder).reason) == (None, "hand")


def test_of_late_holders_the_desk_reads_one_message_a_week(room: CountRoom) -> None:
    room.rule("holders", months=1)
    for copy in room.stock(3):
        room.give(copy, factories.make_holder(room.site))
    monday = ahead(60) - timedelta(days=ahead(60).weekday())
    for days in (0, 1, 2):
        open_due_counts(monday + timedelta(days=days))
    (summary,) = Notice.objects.filter(kind="count-late")
    assert (summary.name, summary.subject) == ("Desk", "3 holders have not shown their keys at North site")
    assert Notice.objects.filter(kind="count-holder").count() == 3
    open_due_counts(monday + timedelta(days=7))
    assert Notice.objects.filter(kind="count-holder").count() == 6
