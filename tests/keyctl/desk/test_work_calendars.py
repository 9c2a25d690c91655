"""Calendars of work: orders, temporary cores and counts by their days (RFC 5545), for those who read them."""

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.counts.models import Count
from keyctl.desk.calendar import may_have
from keyctl.desk.calendar.entries import Entry, write_calendar
from keyctl.desk.models import CalendarFeed
from keyctl.desk.services import end_feed, make_feed, renew_feed
from keyctl.interim.models import Interim
from keyctl.lib.errors import Refused
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Membership, Site
from tests.cast import Cast
from tests.scenes.base import Base, build_base

pytestmark = pytest.mark.django_db

DAY = date(2099, 3, 1)
READERS = {
    "keys": {"desk"},
    "orders": {"locksmith", "manager", "officer", "auditor", "administrator"},
    "interim": {"locksmith", "manager", "officer", "auditor", "administrator"},
    "counts": {"locksmith", "desk", "officer", "auditor", "administrator"},
}


@pytest.fixture
def base(cast: Cast) -> Base:
    return build_base(cast)


def order(site: Site, number: int, by: Any, **facts: Any) -> WorkOrder:
    facts = {"kind": "pin", "title": "Room of A. Person", "due_on": DAY} | facts
    return WorkOrder.objects.create(number=number, site=site, opened_by=by, **facts)


def entries(client: Client, secret: str) -> dict[str, Any]:
    answer = client.get(reverse("desk:feed", args=[secret]))
    assert answer.status_code == 200
    return {str(event["SUMMARY"]): event for event in Calendar.from_ical(answer.content).walk("VEVENT")}


def test_open_orders_stand_on_their_days(client: Client, base: Base) -> None:
    cast = base.cast
    first = order(cast.north, 12, cast.officer)
    order(cast.north, 13, cast.officer, state="done", closed_at=timezone.now())
    order(cast.north, 14, cast.officer, due_on=None)
    order(cast.south, 15, cast.stranger)
    _, secret = make_feed(actor=cast.officer, shows="orders", site=cast.north)
    found = entries(client, secret)
    assert set(found) == {"Work order 12 due: pin cores"}
    event = found["Work order 12 due: pin cores"]
    # RFC 5545, 3.6.1: a day begins and ends by dates, and the end is the first day after.
    assert (event["DTSTART"].dt, event["DTEND"].dt) == (DAY, DAY + timedelta(days=1))
    assert event["DTSTART"].params["VALUE"] == "DATE"
    assert str(event["URL"]).endswith(reverse("orders:detail", args=[first.pk]))


def test_an_order_that_moves_keeps_its_name(client: Client, base: Base) -> None:
    """RFC 5545, 3.8.4.7: the UID is the same for good; 3.8.7.2: DTSTAMP says, in UTC, when it was revised."""
    found = order(base.cast.north, 12, base.cast.officer)
    _, secret = make_feed(actor=base.cast.officer, shows="orders", site=base.cast.north)
    (before,) = entries(client, secret).values()
    assert before["DTSTAMP"].dt == found.opened_at.replace(microsecond=0)
    found.due_on = DAY + timedelta(days=7)
    found.save()
    told = record(actor=None, verb="order.moved", sentence="moved", subjects=[found])
    (after,) = entries(client, secret).values()
    assert after["UID"] == before["UID"]
    assert after["DTSTART"].dt == DAY + timedelta(days=7)
    assert after["DTSTAMP"].dt == told.at.replace(microsecond=0)
    assert after["DTSTAMP"].to_ical().endswith(b"Z")
    assert before["UID"].startswith(f"order-{found.pk}@")


def test_ones_own_orders(client: Client, base: Base) -> None:
    smith = base.cast.locksmith
    order(base.cast.north, 12, base.cast.officer, assigned_to=smith)
    order(base.cast.north, 13, base.cast.officer)
    _, secret = make_feed(actor=smith, shows="own-orders")
    assert set(entries(client, secret)) == {"Work order 12 due: pin cores"}
    Membership.objects.filter(user=smith).delete()
    assert entries(client, secret) == {}


def test_temporary_cores_that_must_leave(client: Client, base: Base) -> None:
    cast = base.cast
    mark = Interim.objects.create(
        core=base.core,
        housing=base.housing,
        site=cast.north,
        until=DAY,
        why="Works",
        marked_by=cast.locksmith,
    )
    _, secret = make_feed(actor=cast.locksmith, shows="interim", site=cast.north)
    (event,) = entries(client, secret).values()
    assert (str(event["SUMMARY"]), event["DTSTART"].dt) == ("Temporary core must leave", DAY)
    Core.objects.filter(pk=base.core.pk).update(place="shelf", housing=None)
    assert entries(client, secret) == {}
    assert mark.ended_at is None


def test_counts_that_are_due(client: Client, base: Base) -> None:
    facts = {"site": base.cast.north, "scope": "cabinet", "cabinet": base.cabinet, "reason": "rule"}
    Count.objects.create(number=5, due_on=DAY, **facts)
    ended = {
        "state": "cancelled",
        "ended_at": timezone.now(),
        "ended_by": base.cast.desk,
        "note": "x",
    }
    Count.objects.create(number=6, due_on=DAY, **facts | ended)
    _, secret = make_feed(actor=base.cast.desk, shows="counts", site=base.cast.north)
    (event,) = entries(client, secret).values()
    assert (str(event["SUMMARY"]), event["DTSTART"].dt) == ("Count 5 of keys due", DAY)


def test_no_name_no_door_and_no_title_stands_in_any(client: Client, base: Base) -> None:
    order(base.cast.north, 12, base.cast.officer, assigned_to=base.cast.locksmith)
    for shows in ("orders", "interim", "counts"):
        actor = base.cast.officer
        _, secret = make_feed(actor=actor, shows=shows, site=base.cast.north)
        text = client.get(reverse("desk:feed", args=[secret])).content.decode()
        for words in (
            base.housing.door.number,
            str(base.core),
            "A. Person",
            base.cast.locksmith.display_name,
            secret,
        ):
            assert not re.search(rf"\b{re.escape(words)}\b", text.replace("\r\n ", "")), (shows, words)


@pytest.mark.parametrize("shows", READERS)
def test_the_cast_has_what_it_may_read(shows: str, client: Client, base: Base) -> None:
    for who, user in base.cast.everybody.items():
        client.force_login(user)
        answer = client.post(reverse("desk:feeds"), {"shows": shows, "site": base.cast.north.pk})
        expected = 200 if who in READERS[shows] else 404 if who == "stranger" else 403
        assert answer.status_code == expected, who
        assert may_have(user, shows, base.cast.north) == (expected == 200)


@pytest.mark.parametrize(("shows", "has_site"), [("orders", False), ("own-keys", True), ("secrets", False)])
def test_what_there_is_not(shows: str, has_site: bool, client: Client, base: Base) -> None:
    client.force_login(base.cast.officer)
    said = {"shows": shows} | ({"site": base.cast.north.pk} if has_site else {})
    assert client.post(reverse("desk:feeds"), said).status_code == 422
    assert not CalendarFeed.objects.exists()


def test_a_renewed_address_replaces_the_one_before(client: Client, base: Base) -> None:
    feed, secret = make_feed(actor=base.cast.officer, shows="orders", site=base.cast.north)
    client.force_login(base.cast.officer)
    answer = client.post(reverse("desk:renew-feed", args=[feed.pk]))
    (other,) = re.findall(r"/desk/calendar/([\w-]+)\.ics", answer.content.decode())
    assert other != secret
    assert "no-store" in answer.headers["Cache-Control"]
    assert client.get(reverse("desk:feed", args=[secret])).status_code == 404
    assert client.get(reverse("desk:feed", args=[other])).status_code == 200
    assert CalendarFeed.objects.count() == 1
    client.force_login(base.cast.auditor)
    assert client.post(reverse("desk:renew-feed", args=[feed.pk])).status_code == 404
    end_feed(actor=base.cast.officer, feed=feed)
    with pytest.raises(Refused, match="has ended"):
        renew_feed(actor=base.cast.officer, feed=feed)


def test_moments_are_universal() -> None:
    """RFC 5545, 3.3.5 form 2: a moment in UTC ends in Z, so no VTIMEZONE is wanted."""
    moment = datetime(2099, 3, 1, 12, tzinfo=UTC)
    text = write_calendar("Days", [Entry("one", moment, "A; b, c", moment, "/x/")]).decode()
    assert "DTSTART:20990301T120000Z\r\n" in text
    assert "DTEND:20990301T121500Z\r\n" in text
    assert "DTSTAMP:20990301T120000Z\r\n" in text
    # 3.3.11: commas and semicolons in a text are escaped.
    assert "SUMMARY:A\\; b\\, c\r\n" in text
    assert "TZID" not in text
