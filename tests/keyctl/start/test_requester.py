"""What is everybody's own: keys in hand, requests, and what somebody is to say or sign."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.approvals.models import KeyRequest
from keyctl.counts.models import Count
from keyctl.keys.models import Custody, Person
from keyctl.keys.services import hand_out, take_back
from keyctl.lib.moments import end_of_day
from tests import factories
from tests.cast import Cast
from tests.keyctl.approvals.estate import Estate, set_up
from tests.keyctl.start.reading import block, day, questions, said, words_of

KEYS, REQUESTS, SIGN = "Which keys do you have?", "How far are your requests?", "What must you say or sign?"


@pytest.fixture
def estate(cast: Cast) -> Estate:
    return set_up(cast)


def given(estate: Estate, name: str, user: User | None = None, **facts: Any) -> Custody:
    copy = estate.stock(estate.key(name))
    holder = factories.make_holder(estate.cast.north, user=user or estate.cast.requester, **facts)
    hand_out(actor=estate.cast.desk, copy=copy, holder=holder, signed_as="One")
    return Custody.objects.get(copy=copy)


def test_keys_stand_with_the_day_they_are_due(estate: Estate) -> None:
    line = given(estate, "AA1")
    assert said(block(estate.cast.requester, KEYS)) == [(f"Key AA1, copy {line.copy}", "")]
    Custody.objects.filter(pk=line.pk).update(due_at=end_of_day(day(0)))
    (found,) = block(estate.cast.requester, KEYS).lines
    assert found.mark
    assert found.mark.words == "Due today"
    assert f"due back {day(0):%-d %b %Y}" in found.about


def test_what_was_brought_back_is_theirs_no_more(estate: Estate) -> None:
    line = given(estate, "AA1")
    take_back(actor=estate.cast.desk, copy=line.copy, cabinet=estate.cabinet)
    assert not block(estate.cast.requester, KEYS).lines


def test_keys_of_a_person_brought_in_from_elsewhere_are_theirs_too(estate: Estate) -> None:
    person = Person.objects.create(user=estate.cast.requester, display_name="Requester")
    holder = factories.make_holder(estate.cast.north, person=person)
    hand_out(actor=estate.cast.desk, copy=estate.stock(estate.key("AA1")), holder=holder, signed_as="One")
    assert len(block(estate.cast.requester, KEYS).lines) == 1


def test_nobody_reads_of_the_keys_of_others(estate: Estate) -> None:
    given(estate, "AA1", estate.cast.manager)
    assert not block(estate.cast.requester, KEYS).lines


def test_open_requests_stand_first_and_what_was_settled_long_ago_not_at_all(estate: Estate) -> None:
    doors = [estate.door(estate.key(f"AA{nth}")) for nth in range(3)]
    refused, old, asked = (estate.ask(door) for door in doors)
    decided: dict[str, Any] = {"state": "refused", "decided_by": estate.cast.manager}
    KeyRequest.objects.filter(pk=refused.pk).update(**decided, decided_at=timezone.now())
    month = timezone.now() - timedelta(days=30)
    KeyRequest.objects.filter(pk=old.pk).update(**decided, decided_at=month)
    found = block(estate.cast.requester, REQUESTS)
    assert [mark for _what, mark in said(found)] == ["Waiting for a decision", "Refused"]
    assert [str(each.pk) in line.url for each, line in zip((asked, refused), found.lines, strict=True)] == [
        True,
        True,
    ]


def test_a_request_names_doors_by_their_house_and_no_key(estate: Estate, client: Client) -> None:
    estate.choose(estate.ask(estate.door(estate.key("SECRET-NAME"))))
    assert "SECRET-NAME" not in words_of(client, estate.cast.requester)


def test_keys_that_lie_ready_say_how_to_collect_them(estate: Estate) -> None:
    request = estate.granted().request
    KeyRequest.objects.filter(pk=request.pk).update(state="ready", ready_at=timezone.now())
    (line,) = block(estate.cast.requester, REQUESTS).lines
    assert line.act
    assert line.act.label == "How to collect it"


def test_a_count_of_ones_own_keys_is_asked_for(estate: Estate) -> None:
    assert SIGN not in questions(estate.cast.requester)
    holder = factories.make_holder(estate.cast.north, user=estate.cast.requester)
    Count.objects.create(
        site=estate.cast.north, number=1, scope="holder", holder=holder, reason="rule", due_on=day(-3)
    )
    assert said(block(estate.cast.requester, SIGN)) == [("Say which keys you have", "3 days late")]


def test_whoever_works_here_reads_of_own_keys_only_where_they_have_some(estate: Estate) -> None:
    assert KEYS not in questions(estate.cast.locksmith)
    given(estate, "AA1", estate.cast.locksmith)
    assert KEYS in questions(estate.cast.locksmith)
    assert REQUESTS not in questions(estate.cast.locksmith)


def test_an_empty_morning_is_said_in_words(cast: Cast, client: Client) -> None:
    page = words_of(client, cast.requester)
    assert "The register has no key with you." in page
    assert "You have asked for no key lately." in page
    assert "Ask for a key" in page


def test_a_requester_is_shown_nothing_of_the_estate(estate: Estate) -> None:
    estate.door(estate.key("AA1"))
    assert questions(estate.cast.requester) == [KEYS, REQUESTS]
