"""Reminders of due keys, round by round over the days, against what the rules say."""

from datetime import date, datetime, time, timedelta
from functools import partial
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.desk.models import DuePause
from keyctl.desk.services import end_pause, pause_reminders, remind_of_due_keys, set_due_rules
from keyctl.keys.models import Custody, Holder
from keyctl.keys.services import deactivate_holder
from keyctl.lib.errors import Refused
from keyctl.notices.models import Notice
from tests import factories
from tests.keyctl.desk.counter import words_of
from tests.keyctl.jobs.test_two_workers_at_once import both
from tests.keyctl.keys.keyroom import KeyRoom

DAY = timedelta(days=1)
RULES: dict[str, Any] = {
    "is_on": True,
    "lead_days": 2,
    "repeat_days": 7,
    "tell_desk_after": 2,
    "stop_after": 3,
}


@pytest.fixture
def holder(room: KeyRoom) -> Holder:
    set_due_rules(actor=room.cast.administrator, site=room.site, **RULES)
    return factories.make_holder(room.site, name="Ann Bell", email="ann@example.org")


def give(room: KeyRoom, holder: Holder, *, due: timedelta, out: timedelta = -30 * DAY) -> Custody:
    """A key handed out and due that far from now; the register is set back by hand."""
    copy = room.give(room.in_stock(), holder)
    now = timezone.now()
    Custody.objects.filter(copy=copy).update(out_at=now + out, due_at=now + due)
    return Custody.objects.get(copy=copy)


def kinds(**facts: Any) -> list[str]:
    return list(Notice.objects.filter(**facts).order_by("written_at").values_list("kind", flat=True))


def days(count: int) -> list[int]:
    """On which of the coming days a mail to the holder is written, looking every six hours."""
    now, found = timezone.now(), []
    for step in range(count * 4):
        before = Notice.objects.filter(to="ann@example.org").count()
        remind_of_due_keys(now + step * DAY / 4)
        if Notice.objects.filter(to="ann@example.org").count() > before:
            found.append(step // 4)
    return found


def at_noon(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time(12)))


def test_before_the_day_on_it_and_every_week_until_they_stop(room: KeyRoom, holder: Holder) -> None:
    give(room, holder, due=5 * DAY + DAY / 8)
    # Two days before; when overdue (a quarter day after the hour), a week and two weeks later; then no more.
    assert days(60) == [3, 5, 12, 19]
    assert kinds(to="ann@example.org") == ["desk.due_soon"] + 3 * ["desk.overdue"]


def test_the_desk_is_told_once_after_so_many(room: KeyRoom, holder: Holder) -> None:
    room.desk.email = "desk@example.org"
    room.desk.save()
    give(room, holder, due=-DAY)
    now = timezone.now()
    remind_of_due_keys(now)
    assert kinds(to="desk@example.org") == []
    for week in range(1, 5):
        remind_of_due_keys(now + week * 7 * DAY)
    assert kinds(to="desk@example.org") == ["desk.still_overdue"]
    assert "was reminded 2 times" in Notice.objects.get(to="desk@example.org").body


def test_of_somebody_without_an_address_the_desk_is_told_at_once(room: KeyRoom, holder: Holder) -> None:
    room.desk.email = "desk@example.org"
    room.desk.save()
    holder.email = ""
    holder.save()
    give(room, holder, due=-DAY)
    remind_of_due_keys(timezone.now())
    assert set(Notice.objects.values_list("kind", "state")) == {
        ("desk.overdue", "nobody"),
        ("desk.still_overdue", "waiting"),
    }
    assert "has no e-mail address" in Notice.objects.get(to="desk@example.org").body


def test_one_mail_for_all_keys_of_a_person_with_serials_only(room: KeyRoom, holder: Holder) -> None:
    lines = [give(room, holder, due=-DAY), give(room, holder, due=-2 * DAY), give(room, holder, due=DAY)]
    remind_of_due_keys(timezone.now())
    text = Notice.objects.get().body
    assert all(str(line.copy) in text for line in lines)
    assert room.symbol.symbol not in text


def test_a_short_loan_is_not_announced_before_it_began(room: KeyRoom, holder: Holder) -> None:
    give(room, holder, due=DAY / 4, out=timedelta(0))
    assert days(1) == [0]
    assert kinds() == ["desk.overdue"]


def test_when_the_oldest_is_back_the_next_one_is_a_matter_of_its_own(room: KeyRoom, holder: Holder) -> None:
    first = give(room, holder, due=-DAY)
    now = timezone.now()
    for week in range(4):
        remind_of_due_keys(now + week * 7 * DAY)
    room.take_back(first.copy)
    give(room, holder, due=-DAY / 2)
    remind_of_due_keys(now + 29 * DAY)
    assert Notice.objects.filter(to="ann@example.org").count() == 4


def test_a_pause_lasts_through_its_day(room: KeyRoom, holder: Holder) -> None:
    give(room, holder, due=-DAY)
    until = timezone.localdate() + 3 * DAY
    pause_reminders(actor=room.desk, holder=holder, until=until, reason="Is ill")
    assert remind_of_due_keys(at_noon(until)) == "Reminders of due keys written: 0."
    assert remind_of_due_keys(at_noon(until + DAY)) == "Reminders of due keys written: 1."
    assert Event.objects.filter(verb="reminders.paused").get().detail == {"reason": "Is ill"}


def test_an_ended_pause_and_what_is_refused_of_one(room: KeyRoom, holder: Holder) -> None:
    give(room, holder, due=-DAY)
    today = timezone.localdate()
    pause = partial(pause_reminders, actor=room.desk, holder=holder)
    for until, reason in ((today - DAY, "x"), (today + 93 * DAY, "x"), (today, " ")):
        with pytest.raises(Refused):
            pause(until=until, reason=reason)
    pause(until=today + 9 * DAY, reason="Is ill")
    pause(until=today + 5 * DAY, reason="Is back sooner")
    assert DuePause.objects.filter(ended_at=None).count() == 1
    end_pause(actor=room.desk, holder=holder)
    with pytest.raises(Refused, match="not paused"):
        end_pause(actor=room.desk, holder=holder)
    assert days(1) == [0]


def test_of_those_who_leave_the_recovery_case_reminds(room: KeyRoom, holder: Holder) -> None:
    give(room, holder, due=-DAY)
    deactivate_holder(actor=room.desk, holder=holder)
    Notice.objects.all().delete()
    remind_of_due_keys(timezone.now())
    assert kinds() == []


def test_switched_off_nobody_is_reminded(room: KeyRoom, holder: Holder) -> None:
    give(room, holder, due=-DAY)
    set_due_rules(actor=room.cast.administrator, site=room.site, **RULES | {"is_on": False})
    assert remind_of_due_keys(timezone.now()) == "Reminders of due keys written: 0."


def test_the_desk_is_not_told_after_the_last(room: KeyRoom) -> None:
    with pytest.raises(Refused, match="not after the last"):
        set_due_rules(actor=room.cast.administrator, site=room.site, **RULES | {"tell_desk_after": 4})


@pytest.mark.django_db(transaction=True)
def test_two_workers_write_one(room: KeyRoom, holder: Holder) -> None:
    give(room, holder, due=-DAY)
    both(partial(remind_of_due_keys, timezone.now()))
    assert kinds() == ["desk.overdue"]


def test_the_page_shows_who_is_overdue_and_pauses(room: KeyRoom, holder: Holder, client: Client) -> None:
    give(room, holder, due=-DAY)
    remind_of_due_keys(timezone.now())
    client.force_login(room.desk)
    page = reverse("desk:reminders", args=[room.site.pk])
    assert "Ann Bell" in words_of(client.get(page))
    facts = {"until": timezone.localdate() + DAY, "reason": "On a journey"}
    client.post(reverse("desk:pause", args=[holder.pk]), facts)
    assert "On a journey" in words_of(client.get(page))
    client.post(reverse("desk:end-pause", args=[holder.pk]))
    assert "On a journey" not in words_of(client.get(page))
    assert client.get(reverse("desk:rules", args=[room.site.pk])).status_code == 403
    client.force_login(room.cast.administrator)
    rules = reverse("desk:rules", args=[room.site.pk])
    assert client.post(rules, RULES | {"repeat_days": 0}).status_code == 422
    client.post(rules, RULES | {"repeat_days": 3})
    assert "every 3 days" in words_of(client.get(page))
