"""What the key desk reads in the morning."""

from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from keyctl.approvals.models import KeyRequest
from keyctl.counts.models import Count
from keyctl.counts.services import adopt_set
from keyctl.keys.models import Custody
from keyctl.keys.services import change_custodian, hand_out
from keyctl.leavers.models import LeaverCase
from keyctl.lib.moments import end_of_day
from tests import factories
from tests.cast import Cast
from tests.keyctl.approvals.estate import Estate
from tests.keyctl.approvals.estate import set_up as set_up_estate
from tests.keyctl.keys.keyroom import KeyRoom
from tests.keyctl.keys.keyroom import set_up as set_up_room
from tests.keyctl.start.reading import block, day, said, words_of

DUE, COLLECT, READY = "What is due back today?", "Who comes to collect", "Which keys must be made ready?"
COUNTS, LEAVERS, HANDOVERS = "What must be counted?", "Who leaves with keys?", "Which cabinets"


@pytest.fixture
def room(cast: Cast) -> KeyRoom:
    return set_up_room(cast)


@pytest.fixture
def estate(cast: Cast) -> Estate:
    return set_up_estate(cast)


def lent(room: KeyRoom, due_at: datetime | None) -> Custody:
    copy = room.in_stock()
    hand_out(actor=room.desk, copy=copy, holder=room.holder, signed_as="One")
    Custody.objects.filter(copy=copy).update(due_at=due_at)
    return Custody.objects.get(copy=copy)


def test_what_is_longest_overdue_stands_first_and_tomorrow_is_not_today(room: KeyRoom) -> None:
    late, later = (lent(room, end_of_day(day(shift))) for shift in (-5, -1))
    now = lent(room, end_of_day(day(0)))
    lent(room, end_of_day(day(1)))
    lent(room, None)
    found = block(room.desk, DUE)
    assert [mark for _what, mark in said(found)] == ["5 days late", "1 day late", "Due today"]
    assert [line.act.of for line in found.lines if line.act] == [
        str(each.copy) for each in (late, later, now)
    ]


def test_a_key_lent_by_the_hour_is_late_within_the_day(room: KeyRoom) -> None:
    moment = timezone.now() - timedelta(minutes=1)
    lent(room, moment)
    (found,) = said(block(room.desk, DUE))
    assert found[1] in {"Late", "1 day late"}  # the minute before midnight was yesterday


def test_what_came_back_is_not_due(room: KeyRoom) -> None:
    line = lent(room, end_of_day(day(-1)))
    from keyctl.keys.services import take_back

    take_back(actor=room.desk, copy=line.copy, cabinet=room.cabinet)
    assert not block(room.desk, DUE).lines


def test_requests_go_from_made_ready_to_collected(estate: Estate) -> None:
    key = estate.key("AA1")
    request = estate.granted(key).request
    waiting = block(estate.cast.desk, READY)
    assert [line.what for line in waiting.lines] == [str(request.holder)]
    assert not block(estate.cast.desk, COLLECT).lines
    KeyRequest.objects.filter(pk=request.pk).update(state="ready", ready_at=timezone.now())
    assert [line.what for line in block(estate.cast.desk, COLLECT).lines] == [str(request.holder)]
    assert not block(estate.cast.desk, READY).lines


def test_a_request_that_waits_for_a_decision_is_not_the_desks(estate: Estate) -> None:
    estate.ask(estate.door(estate.key("AA1")))
    assert not block(estate.cast.desk, READY).lines


def test_counts_due_within_a_week_and_late_ones_stand_by_their_day(room: KeyRoom) -> None:
    for number, shift in enumerate((3, -4, 60), start=1):
        Count.objects.create(
            site=room.site,
            number=number,
            scope="cabinet",
            cabinet=factories.make_cabinet(room.site),
            reason="rule",
            due_on=day(shift),
        )
    found = block(room.desk, COUNTS)
    assert [mark for _what, mark in said(found)] == ["4 days late", ""]
    assert [line.act.label for line in found.lines if line.act] == ["Begin", "Begin"]


def test_an_officer_reads_the_same_counts_and_begins_none(room: KeyRoom) -> None:
    Count.objects.create(
        site=room.site, number=1, scope="cabinet", cabinet=room.cabinet, reason="rule", due_on=day(-1)
    )
    (line,) = block(room.cast.officer, COUNTS).lines
    assert line.act
    assert line.act.label == "Look"


def test_leavers_stand_with_the_keys_they_still_have(room: KeyRoom) -> None:
    lent(room, None)
    lent(room, None)
    LeaverCase.objects.create(holder=room.holder, why="by-hand", leaves_on=day(-1), opened_by=room.desk)
    (line,) = block(room.desk, LEAVERS).lines
    assert (line.what, line.mark.words if line.mark else "") == (str(room.holder), "Has left")
    assert line.about.startswith("2 keys of")


def test_a_cabinet_between_two_custodians_is_named(room: KeyRoom) -> None:
    adopt_set(actor=room.cast.officer, site=room.site, name="university")
    change_custodian(actor=room.cast.administrator, cabinet=room.cabinet, to=room.cast.manager)
    (line,) = block(room.desk, HANDOVERS).lines
    assert line.what == str(room.cabinet)
    assert "to Manager" in line.about


def test_an_empty_morning_is_said_in_words(cast: Cast, client: Client) -> None:
    page = words_of(client, cast.desk)
    for sentence in (
        "Nothing is due back today.",
        "No key waits to be collected.",
        "Every approved request has its keys.",
        "No count is due within a week.",
        "Nobody leaves with keys.",
        "No cabinet changes hands.",
        "Nobody reports a lost key.",
    ):
        assert sentence in page


def test_the_desk_of_another_site_reads_nothing_of_this_one(room: KeyRoom) -> None:
    lent(room, end_of_day(day(-5)))
    from keyctl.places.roles import Role

    other = factories.make_user("far-desk", site=room.cast.south, role=Role.KEY_DESK)
    assert not block(other, DUE).lines
