"""Reminders: their rounds, their end, managers, a pause, one by hand; each is kept with the case."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from keyctl.keys.models import Holder
from keyctl.keys.services import deactivate_holder
from keyctl.leavers.models import LeaverCase, Reminder
from keyctl.leavers.services import (
    announce_leaving,
    end_pause,
    look_after,
    pause_reminders,
    remind_now,
    set_rules,
)
from keyctl.lib.errors import Refused
from keyctl.notices.models import Notice
from keyctl.places.models import BuildingManager
from keyctl.places.roles import Role
from tests import factories
from tests.cast import Cast
from tests.keyctl.keys.keyroom import KeyRoom

DAY = timedelta(days=1)


def left(room: KeyRoom, keys: int = 1) -> LeaverCase:
    Holder.objects.filter(pk=room.holder.pk).update(email="holder@example.org")
    room.holder.refresh_from_db()
    for _ in range(keys):
        room.held()
    deactivate_holder(actor=room.desk, holder=room.holder)
    return LeaverCase.objects.get()


def kinds(case: LeaverCase) -> list[str]:
    return [reminder.kind for reminder in case.reminders.order_by("at", "kind")]


def test_the_first_goes_at_once_the_next_after_a_week(room: KeyRoom) -> None:
    case, now = left(room), timezone.now()
    look_after(now)
    look_after(now + 6 * DAY)
    assert kinds(case) == ["reminder"]
    look_after(now + 8 * DAY)
    assert kinds(case).count("reminder") == 2


def test_they_end_and_managers_hear_of_it_once(room: KeyRoom) -> None:
    """By the rules of the house: managers after two, an end after five."""
    case, now = left(room), timezone.now()
    for week in range(10):
        look_after(now + week * 8 * DAY)
    case.refresh_from_db()
    assert kinds(case).count("reminder") == 5
    assert kinds(case).count("escalation") == 1
    assert (case.reminded, case.next_reminder_at) == (5, None)
    assert case.is_open


def test_the_mail_names_serials_and_neither_symbol_nor_door(room: KeyRoom) -> None:
    case = left(room, keys=2)
    look_after(timezone.now())
    notice = Notice.objects.get(kind="leaver.reminder")
    assert notice.to == "holder@example.org"
    for copy in room.holder.copies.all():
        assert str(copy) in notice.body
    assert room.symbol.symbol not in notice.subject + notice.body
    assert case.reminders.get().notice == notice


def test_who_has_no_address_is_kept_as_nobody_to_mail(room: KeyRoom) -> None:
    left(room)
    Holder.objects.filter(pk=room.holder.pk).update(email="")
    look_after(timezone.now())
    assert Notice.objects.get().state == "nobody"


def test_managers_are_those_of_the_buildings_that_the_keys_open(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    opened, other = factories.make_housing(cast.north), factories.make_housing(cast.north)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system)
    factories.install(core, opened)
    stranger = factories.make_user(site=cast.north, role=Role.MANAGER)
    BuildingManager.objects.create(building=opened.door.building, user=cast.manager)
    BuildingManager.objects.create(building=other.door.building, user=stranger)
    room = KeyRoom(
        cast,
        factories.change_key(system),
        factories.make_cabinet(cast.north),
        factories.make_holder(cast.north),
    )
    case, now = left(room), timezone.now()
    look_after(now)
    look_after(now + 8 * DAY)
    assert [each.to_name for each in case.reminders.filter(kind="escalation")] == [str(cast.manager)]


def test_where_no_manager_is_named_the_officers_hear(room: KeyRoom) -> None:
    case, now = left(room), timezone.now()
    look_after(now)
    look_after(now + 8 * DAY)
    assert [each.to_name for each in case.reminders.filter(kind="escalation")] == [str(room.cast.officer)]


def test_before_a_last_day_it_is_said_that_it_comes(room: KeyRoom) -> None:
    room.held()
    case = announce_leaving(
        actor=room.desk, holder=room.holder, leaves_on=timezone.localdate() + timedelta(days=30)
    )
    now = timezone.now()
    look_after(now + 10 * DAY)
    assert kinds(case) == []
    look_after(now + 17 * DAY)
    assert kinds(case) == ["announced"]
    assert "last day" in Notice.objects.get().subject


def test_a_pause_holds_them_and_its_end_lets_them_go(room: KeyRoom) -> None:
    case, now = left(room), timezone.now()
    pause_reminders(
        actor=room.desk,
        case=case,
        version=case.version,
        until=timezone.localdate() + 20 * DAY,
        reason="In hospital",
    )
    look_after(now + 20 * DAY)
    assert kinds(case) == []
    look_after(now + 21 * DAY)
    assert kinds(case) == ["reminder"]


def test_a_pause_ends_by_hand(room: KeyRoom) -> None:
    case = left(room)
    facts: dict[str, Any] = {"until": timezone.localdate() + 20 * DAY, "reason": "In hospital"}
    case = pause_reminders(actor=room.desk, case=case, version=case.version, **facts)
    case = end_pause(actor=room.desk, case=case, version=case.version)
    look_after(timezone.now())
    assert kinds(case) == ["reminder"]
    with pytest.raises(Refused, match="not paused"):
        end_pause(actor=room.desk, case=case, version=case.version + 1)


@pytest.mark.parametrize(("days", "reason"), [(-1, "Ill"), (93, "Ill"), (3, " ")])
def test_a_pause_has_a_reason_and_an_end_that_is_near(room: KeyRoom, days: int, reason: str) -> None:
    case = left(room)
    until = timezone.localdate() + days * DAY
    with pytest.raises(Refused):
        pause_reminders(actor=room.desk, case=case, version=case.version, until=until, reason=reason)


def test_one_by_hand_moves_the_next_round_and_is_not_sent_twice(room: KeyRoom) -> None:
    case = left(room)
    reminder = remind_now(actor=room.desk, case=case, version=case.version)
    assert (reminder.kind, reminder.sent_by) == (Reminder.Kind.HAND, room.desk)
    case.refresh_from_db()
    look_after(timezone.now() + 6 * DAY)
    assert kinds(case) == ["by-hand"]
    with pytest.raises(Refused, match="a few minutes ago"):
        remind_now(actor=room.desk, case=case, version=case.version)


def test_a_round_that_runs_twice_writes_one_message(room: KeyRoom) -> None:
    case, now = left(room), timezone.now()
    look_after(now)
    LeaverCase.objects.filter(pk=case.pk).update(next_reminder_at=now)
    look_after(now)
    assert Notice.objects.filter(kind="leaver.reminder").count() == 1


def test_somebody_found_holding_keys_after_leaving_gets_a_case(room: KeyRoom) -> None:
    room.held()
    Holder.objects.filter(pk=room.holder.pk).update(is_active=False)
    look_after(timezone.now())
    case = LeaverCase.objects.get()
    assert (case.why, case.opened_by) == ("found", None)


def test_the_site_sets_its_rounds(room: KeyRoom) -> None:
    facts = {"lead_days": 30, "repeat_days": 3, "escalate_after": 1, "stop_after": 2}
    set_rules(actor=room.cast.administrator, site=room.site, **facts)
    case, now = left(room), timezone.now()
    for day in range(0, 12, 3):
        look_after(now + day * DAY + timedelta(minutes=1))
    assert sorted(kinds(case)) == ["escalation", "reminder", "reminder"]


def test_managers_are_told_before_the_last_reminder(room: KeyRoom) -> None:
    facts = {"lead_days": 30, "repeat_days": 3, "escalate_after": 3, "stop_after": 2}
    with pytest.raises(Refused, match="not after the last"):
        set_rules(actor=room.cast.administrator, site=room.site, **facts)


@pytest.mark.parametrize("name", ["desk", "officer", "manager"])
def test_only_an_administrator_sets_them(room: KeyRoom, name: str) -> None:
    facts = {"lead_days": 30, "repeat_days": 3, "escalate_after": 1, "stop_after": 2}
    with pytest.raises(PermissionDenied):
        set_rules(actor=getattr(room.cast, name), site=room.site, **facts)


@pytest.mark.parametrize("name", ["auditor", "manager", "locksmith"])
def test_these_do_not_remind(room: KeyRoom, name: str) -> None:
    case = left(room)
    with pytest.raises(PermissionDenied):
        remind_now(actor=getattr(room.cast, name), case=case, version=case.version)
