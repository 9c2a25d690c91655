"""What the desk refuses, sentence by sentence, and what its page never sends but somebody else might."""

from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from keyctl.desk import access, services
from keyctl.desk.calendar import may_have
from keyctl.desk.models import Tray, TrayLine
from keyctl.desk.services import feeds
from keyctl.desk.services.finishing import Agreed, finish
from keyctl.desk.services.receipts import mail_receipt
from keyctl.keys.models import Handover, Person
from keyctl.keys.services import MOST_AT_ONCE
from keyctl.lib.errors import Conflict, Refused
from keyctl.notices.models import Notice
from keyctl.places.roles import Role
from tests import factories
from tests.keyctl.desk.counter import Counter, Way
from tests.keyctl.keys.keyroom import KeyRoom


def scan(room: KeyRoom, text: object, way: Way = Way.OUT) -> Any:
    return services.scan(actor=room.desk, site=room.site, way=way, text=str(text))


def tray_of(room: KeyRoom, way: Way = Way.OUT) -> Tray:
    return services.agree(actor=room.desk, site=room.site, way=way)


def end(room: KeyRoom, way: Way = Way.OUT, agreed: Agreed | None = None) -> Any:
    tray = tray_of(room, way)
    return finish(
        actor=room.desk,
        site=room.site,
        way=way,
        version=tray.version,
        act_key=tray.act_key,
        agreed=agreed or Agreed(),
    )


def test_a_way_that_is_none(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="handed out, taken back or transferred"):
        scan(room, "AA1", "sideways")  # type: ignore[arg-type]


def test_nothing_is_on_the_list(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="No key is on the list"):
        end(room)


def test_keys_that_nobody_takes(room: KeyRoom) -> None:
    scan(room, room.in_stock())
    with pytest.raises(Refused, match="Nobody is named yet"):
        end(room)


def test_an_act_that_is_sent_twice_is_done_once_and_one_of_an_old_list_is_not(room: KeyRoom) -> None:
    copy = room.held()
    scan(room, copy, Way.BACK)
    tray = tray_of(room, Way.BACK)
    facts: dict[str, Any] = {
        "actor": room.desk,
        "site": room.site,
        "way": Way.BACK,
        "agreed": Agreed(cabinet=room.cabinet),
    }
    with pytest.raises(Conflict, match="not what it was"):
        finish(version=tray.version - 1, act_key=tray.act_key, **facts)
    first = finish(version=tray.version, act_key=tray.act_key, **facts)
    assert finish(version=tray.version, act_key=tray.act_key, **facts) == first
    with pytest.raises(Refused, match="No key is on the list"):
        finish(version=tray.version + 1, act_key=uuid4(), **facts)


def test_keys_that_come_back_go_into_a_cabinet(room: KeyRoom) -> None:
    scan(room, room.held(), Way.BACK)
    with pytest.raises(Refused, match="No cabinet is chosen"):
        end(room, Way.BACK)


def test_a_key_that_came_back_broken_is_told_once(room: KeyRoom) -> None:
    copy = room.held()
    scan(room, copy, Way.BACK)
    services.note_condition(actor=room.desk, line=TrayLine.objects.get(copy=copy), condition="broken")
    end(room, Way.BACK, Agreed(cabinet=room.cabinet))
    copy.refresh_from_db()
    assert copy.is_broken


def test_the_tray_holds_no_more_than_one_act_may(room: KeyRoom) -> None:
    tray = tray_of(room)
    copies = [room.in_stock() for _ in range(3)]
    TrayLine.objects.bulk_create(
        TrayLine(tray=tray, ordinal=nth, copy=factories.make_copy(room.symbol, room.cabinet))
        for nth in range(MOST_AT_ONCE)
    )
    with pytest.raises(Refused, match=f"At most {MOST_AT_ONCE} keys"):
        scan(room, copies[0])


def test_undoing_goes_back_to_an_empty_list_and_no_further(room: KeyRoom) -> None:
    services.choose_taker(actor=room.desk, site=room.site, way=Way.OUT, taker=room.holder)
    scan(room, room.in_stock())
    assert "off the list" in scan(room, "-").words
    assert "not for" in scan(room, "-").words
    with pytest.raises(Refused, match="nothing to take back"):
        scan(room, "-")


def test_a_line_is_left_out_and_a_list_is_cleared(room: KeyRoom) -> None:
    copy = room.in_stock()
    scan(room, copy)
    services.leave_out(actor=room.desk, line=TrayLine.objects.get(copy=copy))
    assert not TrayLine.objects.exists()
    assert "empty" in services.clear_tray(actor=room.desk, site=room.site, way=Way.OUT).words


def test_what_belongs_to_another_site_is_not_taken(room: KeyRoom) -> None:
    far = factories.make_cabinet(room.cast.south)
    with pytest.raises(Refused, match="is not a cabinet of"):
        services.agree(actor=room.desk, site=room.site, way=Way.BACK, cabinet=far)
    elsewhere = factories.make_holder(room.cast.south)
    with pytest.raises(Refused, match="is a holder at"):
        services.choose_taker(actor=room.desk, site=room.site, way=Way.OUT, taker=elsewhere)


def test_a_day_that_is_not_said_is_the_usual_one(room: KeyRoom) -> None:
    tray = services.agree(actor=room.desk, site=room.site, way=Way.OUT, due=Tray.Due.AT)
    assert tray.due == Tray.Due.USUAL


def test_a_name_says_nothing_where_keys_come_back(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="Keys come back without a name"):
        scan(room, room.holder.name, Way.BACK)


def test_a_request_of_somebody_else_is_not_laid_down(room: KeyRoom) -> None:
    from types import SimpleNamespace

    other: Any = SimpleNamespace(holder_id=uuid4(), state="ready")
    with pytest.raises(Refused, match="not ready to collect"):
        services.lay_ready(actor=room.desk, site=room.site, request=other)


def test_a_calendar_address_ends_once(room: KeyRoom) -> None:
    feed, secret = feeds.make_feed(actor=room.desk)
    found = feeds.feed_of(secret)
    assert found is not None
    assert feeds.feed_of(secret) is not None
    feeds.end_feed(actor=room.desk, feed=feed)
    with pytest.raises(Refused, match="has ended already"):
        feeds.end_feed(actor=room.desk, feed=feed)
    assert feeds.feed_of(secret) is None
    for _ in range(feeds.MOST_FEEDS):
        feeds.make_feed(actor=room.desk, site=room.site)
    with pytest.raises(Refused, match="calendar addresses already"):
        feeds.make_feed(actor=room.desk)


def test_an_act_without_lines_is_mailed_to_nobody(room: KeyRoom) -> None:
    for way in Way:
        holder = None if way == Way.BACK else room.holder
        mail_receipt(factories.make_handover(room.site, by=room.desk, way=way, holder=holder))
    assert not Notice.objects.exists()


def test_the_counter_of_another_clerk_is_not_found(room: KeyRoom, counter: Counter) -> None:
    counter.scan(room.in_stock())
    line = TrayLine.objects.get()
    assert access.own_line(room.desk, line.pk) == line
    colleague = factories.make_user("second", site=room.site, role=Role.KEY_DESK)
    with pytest.raises(Http404):
        access.own_line(colleague, line.pk)


def test_what_several_brought_is_nobodys_own(room: KeyRoom) -> None:
    act = factories.make_handover(room.site, by=room.desk, way=Handover.Way.BACK, holder=None)
    assert not access.is_own(room.desk, act)
    assert may_have(room.desk, "keys", room.site)
    assert not may_have(room.cast.auditor, "keys", room.site)


def test_keys_that_were_scanned_first_are_for_whoever_is_named_then(room: KeyRoom) -> None:
    copy = room.in_stock()
    scan(room, copy)
    services.choose_taker(actor=room.desk, site=room.site, way=Way.OUT, taker=room.holder)
    assert TrayLine.objects.get(copy=copy).request is None
    assert tray_of(room).holder == room.holder


def test_whoever_left_receives_nothing(room: KeyRoom) -> None:
    person = Person.objects.create(display_name="Somebody New")
    services.choose_taker(actor=room.desk, site=room.site, way=Way.OUT, taker=person)
    scan(room, room.in_stock())
    Person.objects.update(is_active=False)
    with pytest.raises(Refused, match="has left and receives no keys"):
        end(room)


def test_whoever_works_at_no_desk_has_none(room: KeyRoom) -> None:
    with pytest.raises(PermissionDenied):
        access.desk_sites(room.cast.auditor)
