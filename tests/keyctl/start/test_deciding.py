"""What a manager reads in the morning: decisions with their effect, substitutes, and what waits too long.

What a key would open is held against the doors that the test gave it itself.
"""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from keyctl.approvals.models import Step, Substitute
from keyctl.places.models import BuildingManager, Door
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.approvals.estate import Estate, set_up
from tests.keyctl.start.reading import block, day, questions, said, today, words_of

DECISIONS, LATE, SUBSTITUTES = "What waits for your decision?", "Which requests wait", "Who stands in"


@pytest.fixture
def estate(cast: Cast) -> Estate:
    return set_up(cast)


def critical(door: Door) -> Door:
    Door.objects.filter(pk=door.pk).update(door_class=Door.DoorClass.CRITICAL)
    return door


def test_a_decision_says_who_asks_and_what_the_key_would_open(estate: Estate) -> None:
    change, master = estate.key("AA1"), estate.key("AA", is_master=True)
    asked = estate.door(change, master)
    critical(estate.door(change, master))
    estate.door(master)
    estate.ask(asked)
    (line,) = block(estate.cast.manager, DECISIONS).lines
    assert line.what == "A key for Holder One"
    assert line.about == (
        f"Requester asks for 1 door in {estate.building}. "
        "The lowest single key for it, AA1, opens 2 doors, among them 1 critical."
    )
    assert line.mark
    assert line.mark.words == "Opens critical doors"


def test_of_keys_on_the_same_doors_the_lowest_is_told(estate: Estate) -> None:
    change, master = estate.key("AA1"), estate.key("AA", is_master=True)
    doors = [estate.door(change, master), estate.door(master)]
    estate.ask(*doors)
    (line,) = block(estate.cast.manager, DECISIONS).lines
    assert "for it, AA, opens 2 doors." in line.about


def test_where_no_single_key_opens_all_that_is_said(estate: Estate) -> None:
    estate.ask(estate.door(estate.key("AA1")), estate.door(estate.key("AB1")))
    (line,) = block(estate.cast.manager, DECISIONS).lines
    assert line.about.endswith("No single key opens them all.")


def test_the_longest_waiting_stands_first_and_one_past_its_term_is_marked(estate: Estate) -> None:
    key = estate.key("AA1")
    requests = [estate.ask(estate.door(key)) for _ in range(2)]
    past = timezone.now() - timedelta(days=3)
    Step.objects.filter(request=requests[1]).update(since=past, due_at=past + timedelta(hours=48))
    assert [mark for _what, mark in said(block(estate.cast.manager, DECISIONS))] == [
        "Past its term",
        "Asked less than an hour ago",
    ]


def test_what_one_asked_for_oneself_waits_for_others(estate: Estate) -> None:
    estate.ask(estate.door(estate.key("AA1")), actor=estate.cast.manager)
    assert not block(estate.cast.manager, DECISIONS).lines


def test_the_second_decision_speaks_of_the_chosen_keys(estate: Estate) -> None:
    master = estate.key("AA", is_master=True)
    estate.choose(estate.ask(estate.door(master)))
    assert not block(estate.cast.manager, DECISIONS).lines
    (line,) = block(estate.cast.officer, DECISIONS).lines
    assert line.about.endswith("The chosen AA would open 1 door.")


def test_who_manages_another_building_reads_nothing_of_this_one(estate: Estate) -> None:
    other = factories.make_user("other", site=estate.cast.north, role=Role.MANAGER)
    BuildingManager.objects.create(building=estate.other_floor.building, user=other)
    estate.ask(estate.door(estate.key("AA1")))
    assert not block(other, DECISIONS).lines
    assert not block(other, LATE).lines


def test_a_locksmith_hears_of_decisions_only_where_a_rule_names_them(estate: Estate) -> None:
    assert DECISIONS not in questions(estate.cast.locksmith)


def test_a_request_that_waits_for_others_beyond_its_term_is_named(estate: Estate) -> None:
    master = estate.key("AA", is_master=True)
    request = estate.choose(estate.ask(estate.door(master)))
    assert not block(estate.cast.manager, LATE).lines
    Step.objects.filter(request=request, state="waiting").update(due_at=timezone.now() - timedelta(hours=1))
    (line,) = block(estate.cast.manager, LATE).lines
    assert "waits for a security officer" in line.about


def test_substitutes_of_today_are_named_on_both_sides_and_those_of_tomorrow_are_not(cast: Cast) -> None:
    facts = {"site": cast.north, "named_by": cast.administrator}
    Substitute.objects.create(
        person=cast.manager, stands_in=cast.officer, since=today(), until=day(2), **facts
    )
    other = factories.make_user("other", site=cast.north, role=Role.MANAGER)
    Substitute.objects.create(person=cast.manager, stands_in=other, since=day(1), until=day(2), **facts)
    (mine,) = block(cast.manager, SUBSTITUTES).lines
    (theirs,) = block(cast.officer, SUBSTITUTES).lines
    assert mine.what == "Officer stands in for you"
    assert theirs.what == "You stand in for Manager"
    assert f"until {day(2):%-d %b %Y}" in mine.about


def test_an_empty_morning_is_said_in_words(cast: Cast, client: Client) -> None:
    page = words_of(client, cast.manager)
    for sentence in (
        "No decision waits for you.",
        "No request of others is past its term.",
        "Nobody stands in for you, and you stand in for nobody.",
    ):
        assert sentence in page
