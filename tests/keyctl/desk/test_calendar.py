"""Calendar feeds: a secret address, told once, that gives days and nothing else (RFC 5545)."""

import hashlib
import re
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar
from pytest_django import Settings

from keyctl.audit.models import Event
from keyctl.desk.models import CalendarFeed
from keyctl.desk.services import end_feed, make_feed
from keyctl.desk.services.feeds import MOST_FEEDS
from keyctl.keys.models import Custody
from keyctl.lib.errors import Refused
from keyctl.lib.moments import end_of_day
from keyctl.places.models import Membership
from tests import factories
from tests.keyctl.desk.counter import words_of
from tests.keyctl.keys.keyroom import KeyRoom

DAY = date(2099, 3, 1)


def read(client: Client, secret: str, **headers: str) -> Any:
    return client.get(reverse("desk:feed", args=[secret]), headers=headers)


def entries(answer: Any) -> list[Any]:
    return list(Calendar.from_ical(answer.content).walk("VEVENT"))


@pytest.fixture
def own(room: KeyRoom) -> str:
    """The secret of a feed of somebody with two keys due on a day and one due at an hour."""
    holder = factories.make_holder(room.site, user=room.cast.requester)
    due = [end_of_day(DAY), end_of_day(DAY), end_of_day(DAY) - timedelta(hours=6)]
    for moment in due:
        room.give(room.in_stock(), holder, due_at=moment)
    room.give(room.in_stock(), due_at=end_of_day(DAY))
    return make_feed(actor=room.cast.requester)[1]


def test_own_due_days_stand_in_it_one_entry_for_each_moment(client: Client, own: str) -> None:
    found = {str(event["SUMMARY"]): event for event in entries(read(client, own))}
    assert set(found) == {"2 keys due back", "Key due back"}
    assert found["2 keys due back"]["DTSTART"].dt == DAY
    assert found["2 keys due back"]["DTEND"].dt == DAY + timedelta(days=1)
    moment = found["Key due back"]["DTSTART"].dt
    assert isinstance(moment, datetime)
    assert moment == (end_of_day(DAY) - timedelta(hours=6)).replace(microsecond=0)


def test_it_names_no_key_no_door_and_nobody(client: Client, own: str, room: KeyRoom) -> None:
    text = words_of(read(client, own))
    for line in Custody.objects.select_related("copy", "holder"):
        for words in (line.copy.serial, str(line.copy), room.symbol.symbol, line.holder.name):
            assert words not in text


def test_it_keeps_the_rules_of_the_format(client: Client, own: str, settings: Settings) -> None:
    """RFC 5545: 3.1 lines of at most 75 octets that end in CRLF; 3.6 the properties that must be there."""
    settings.BASE_URL = "https://" + "a-very-long-name-of-a-house." * 4 + "example.org"
    answer = read(client, own)
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    text: bytes = answer.content
    assert text.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in text.replace(b"\r\n", b"")
    lines = text.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines), "the long address is folded"
    unfolded = text.replace(b"\r\n ", b"").decode()
    assert unfolded.startswith("BEGIN:VCALENDAR\r\n")
    assert "\r\nVERSION:2.0\r\n" in unfolded
    assert "\r\nPRODID:" in unfolded
    for block in re.findall(r"BEGIN:VEVENT.*?END:VEVENT", unfolded, re.S):
        for name in ("UID", "DTSTAMP", "DTSTART"):
            assert len(re.findall(rf"^{name}[;:]", block, re.M)) == 1
    uids = re.findall(r"^UID:(.*)\r$", unfolded, re.M)
    assert len(uids) == len(set(uids)) == 2


def test_a_key_that_is_back_leaves_it(client: Client, own: str, room: KeyRoom) -> None:
    for line in Custody.objects.filter(holder__user=room.cast.requester).select_related("copy"):
        room.take_back(line.copy)
    assert entries(read(client, own)) == []


def test_what_did_not_change_is_not_sent_again(client: Client, own: str, room: KeyRoom) -> None:
    first = read(client, own)
    again = read(client, own, if_none_match=first.headers["ETag"])
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["ETag"] == first.headers["ETag"]
    room.take_back(Custody.objects.filter(holder__user=room.cast.requester)[0].copy)
    assert read(client, own, if_none_match=first.headers["ETag"]).status_code == 200


def test_caches_of_others_keep_nothing(client: Client, own: str) -> None:
    answer = read(client, own)
    assert answer.headers["Cache-Control"] == "private, max-age=3600"
    assert answer.headers["X-Robots-Tag"] == "noindex"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.cookies == {}


@pytest.mark.parametrize("secret", ["wrong", "", "%00", "a" * 500, "../../etc"])
def test_another_secret_finds_nothing(secret: str, client: Client, own: str) -> None:
    assert client.get(f"/desk/calendar/{secret}.ics").status_code == 404


def test_only_a_digest_of_the_secret_is_kept(own: str) -> None:
    feed = CalendarFeed.objects.get()
    assert feed.digest == hashlib.sha256(own.encode()).hexdigest()
    assert len(own) >= 43
    kept = str(list(CalendarFeed.objects.values())) + str(list(Event.objects.values()))
    assert own not in kept


def test_an_ended_feed_and_one_of_somebody_who_left_are_dead(client: Client, own: str, room: KeyRoom) -> None:
    other_secret = make_feed(actor=room.cast.requester)[1]
    end_feed(actor=room.cast.requester, feed=CalendarFeed.objects.latest("made_at"))
    assert read(client, other_secret).status_code == 404
    assert read(client, own).status_code == 200
    room.cast.requester.is_active = False
    room.cast.requester.save()
    assert read(client, own).status_code == 404


def test_the_desks_feed_counts_what_is_due_at_the_site_while_they_work_there(
    client: Client, room: KeyRoom
) -> None:
    for _ in range(3):
        room.give(room.in_stock(), due_at=end_of_day(DAY))
    _, secret = make_feed(actor=room.desk, site=room.site)
    (event,) = entries(read(client, secret))
    assert event["SUMMARY"] == "3 keys due back"
    Membership.objects.filter(user=room.desk).delete()
    assert entries(read(client, secret)) == []


def test_the_address_is_told_once(client: Client, room: KeyRoom) -> None:
    client.force_login(room.desk)
    address = reverse("desk:feeds")
    answer = client.post(address)
    (secret,) = re.findall(r"/desk/calendar/([\w-]+)\.ics", words_of(answer))
    assert "no-store" in answer.headers["Cache-Control"]
    assert secret not in words_of(client.get(address))
    assert read(client, secret).status_code == 200
    client.post(reverse("desk:end-feed", args=[CalendarFeed.objects.get().pk]))
    assert read(client, secret).status_code == 404


def test_nobody_ends_or_makes_what_is_not_theirs(client: Client, room: KeyRoom) -> None:
    feed, _ = make_feed(actor=room.desk)
    client.force_login(room.cast.locksmith)
    assert client.post(reverse("desk:end-feed", args=[feed.pk])).status_code == 404
    assert client.post(reverse("desk:feeds"), {"site": room.site.pk}).status_code == 403
    assert client.post(reverse("desk:feeds"), {"site": room.cast.south.pk}).status_code == 404
    assert client.post(reverse("desk:feeds"), {"site": "x"}).status_code == 404


def test_there_is_an_end_to_how_many(room: KeyRoom) -> None:
    for _ in range(MOST_FEEDS):
        make_feed(actor=room.desk)
    with pytest.raises(Refused, match="End one"):
        make_feed(actor=room.desk)


def test_reading_is_written_down_once_a_day(client: Client, own: str, writes: Any) -> None:
    read(client, own)
    assert CalendarFeed.objects.get().last_read_on == timezone.localdate()
    with writes() as written:
        read(client, own)
    assert written == []
