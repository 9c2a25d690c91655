"""Silence: who is reminded, who is asked next, who is told; and that it approves nothing."""

from datetime import datetime, timedelta

import pytest
from django.utils import timezone

from keyctl.approvals import services
from keyctl.approvals.models import KeyRequest, Step
from keyctl.approvals.services.escalating import escalate_silent_steps
from keyctl.approvals.waiting import own_decisions
from keyctl.audit.selectors import history_of
from keyctl.notices.models import Notice
from keyctl.places.models import BuildingManager, Membership
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.approvals.estate import Estate


@pytest.fixture
def asked(estate: Estate) -> KeyRequest:
    return estate.ask(estate.door(estate.key("AA1")))


def later(step: Step) -> datetime:
    step.refresh_from_db()
    assert step.due_at is not None
    return step.due_at + timedelta(minutes=1)


def told(kind: str) -> list[str]:
    return sorted(Notice.objects.filter(kind=kind).values_list("name", flat=True))


def test_before_its_hours_are_over_nothing_happens(asked: KeyRequest) -> None:
    step = asked.steps.get()
    sentence = escalate_silent_steps(timezone.now() + timedelta(hours=47))
    assert sentence == "Decisions brought before others: 0, waiting: 1."
    step.refresh_from_db()
    assert step.told == "asked"


def test_silence_reminds_then_asks_officers_then_tells_administrators(
    estate: Estate, asked: KeyRequest
) -> None:
    step, reached = asked.steps.get(), []
    for _ in range(5):
        escalate_silent_steps(later(step))
        step.refresh_from_db()
        reached.append(step.told)
    assert reached == ["reminded", "officer", "administrator", "administrator", "administrator"]
    assert told("requests.waits_long") == ["Manager", "Manager", "Officer"]
    assert told("requests.nobody_decides") == ["Administrator"]
    assert KeyRequest.objects.get(pk=asked.pk).state == "asked"
    verbs = [event.verb for event in history_of(asked)]
    assert verbs.count("request.escalated") == 3


def test_an_officer_decides_what_silence_brought_to_them(estate: Estate, asked: KeyRequest) -> None:
    step = asked.steps.get()
    assert list(own_decisions(estate.cast.officer)) == []
    for _ in range(2):
        escalate_silent_steps(later(step))
    assert list(own_decisions(estate.cast.officer)) == [step]
    assert estate.choose(asked, actor=estate.cast.officer).decided_by == estate.cast.officer


def test_an_officers_own_silence_goes_to_the_administrators(estate: Estate) -> None:
    request = estate.choose(estate.ask(estate.door(estate.key("AA", is_master=True))))
    step = request.steps.get(ordinal=2)
    for _ in range(2):
        escalate_silent_steps(later(step))
    step.refresh_from_db()
    assert step.told == "administrator"


def test_what_is_decided_or_withdrawn_is_left_alone(estate: Estate, asked: KeyRequest) -> None:
    other = estate.ask(estate.door(estate.key("AA2")))
    estate.choose(asked)
    services.withdraw_request(actor=estate.cast.requester, request=other)
    sentence = escalate_silent_steps(timezone.now() + timedelta(days=30))
    assert sentence == "Decisions brought before others: 0, waiting: 0."


def test_when_those_who_decide_leave_others_are_asked_at_the_next_round(
    estate: Estate, asked: KeyRequest
) -> None:
    BuildingManager.objects.all().delete()
    now = timezone.now()
    for _ in range(2):
        escalate_silent_steps(now)
    assert list(own_decisions(estate.cast.officer)) == [asked.steps.get()]


def test_where_nobody_is_named_officers_are_asked_at_once(estate: Estate) -> None:
    request = estate.ask(estate.door(estate.key("AA1"), floor=estate.other_floor))
    assert request.steps.get().told == "officer"
    assert told("requests.waits") == ["Officer"]


def test_where_nobody_at_all_may_decide_administrators_are_told_at_once(estate: Estate) -> None:
    Membership.objects.filter(role=Role.OFFICER).delete()
    request = estate.ask(estate.door(estate.key("AA1"), floor=estate.other_floor))
    assert request.steps.get().told == "administrator"
    assert told("requests.nobody_decides") == ["Administrator"]
    body = Notice.objects.get(kind="requests.nobody_decides").body
    assert "At present nobody may decide it" in body


def test_everybody_asked_is_mailed_once_and_substitutes_with_whom_they_stand_in_for(estate: Estate) -> None:
    second = factories.make_user("second", site=estate.cast.north, role=Role.MANAGER)
    today = timezone.localdate()
    services.name_substitute(
        actor=estate.cast.manager,
        site=estate.cast.north,
        person=estate.cast.manager,
        stands_in=second,
        since=today,
        until=today,
    )
    estate.ask(estate.door(estate.key("AA1")))
    assert told("requests.waits") == ["Manager", "Second"]
    assert "You stand in for Manager." in Notice.objects.get(name="Second").body


def test_mail_names_no_key_and_no_door(estate: Estate) -> None:
    door = estate.door(estate.key("QX7", is_master=True))
    type(door).objects.filter(pk=door.pk).update(number="D-4711")
    request = estate.approve(estate.ask(door))
    escalate_silent_steps(timezone.now() + timedelta(days=3))
    words = " ".join(f"{notice.subject} {notice.body}" for notice in Notice.objects.all())
    assert Notice.objects.filter(kind="requests.approved", name="Requester").count() == 1
    assert str(request.pk) in words
    assert "QX7" not in words
    assert "4711" not in words


def test_whoever_asked_and_whoever_gets_the_key_are_told_of_a_refusal(estate: Estate) -> None:
    type(estate.holder).objects.filter(pk=estate.holder.pk).update(email="holder@example.org")
    asked = estate.ask(estate.door(estate.key("AA1")), holder=type(estate.holder).objects.get())
    services.refuse_request(
        actor=estate.cast.manager, request=asked, version=asked.version, note="Not this term."
    )
    assert told("requests.refused") == ["Holder One", "Requester"]
    assert Notice.objects.get(to="holder@example.org").body.count("Not this term.") == 1
