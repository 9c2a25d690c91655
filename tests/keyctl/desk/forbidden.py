"""What the constraints of the desk forbid; `tests/test_invariants.py` tries each."""

from collections.abc import Callable
from typing import Any

from django.utils import timezone

from keyctl.desk.models import CalendarFeed, DuePause, DueRules, Tray
from keyctl.keys.models import Person
from tests import factories
from tests.cast import Cast


def trays(cast: Cast, times: int = 1, **facts: Any) -> Tray:
    for _ in range(times):
        tray = Tray.objects.create(site=cast.north, clerk=cast.desk, way="out", **facts)
    return tray


def a_tray_for_two(cast: Cast) -> None:
    person = Person.objects.create(display_name="Ann")
    trays(cast, holder=factories.make_holder(cast.north), person=person)


def two_lines(cast: Cast, *, is_one_copy: bool) -> None:
    system = factories.make_system(cast.north, actor=cast.administrator)
    cabinet, symbol = factories.make_cabinet(cast.north), factories.change_key(system)
    first, second = (factories.make_copy(symbol, cabinet) for _ in range(2))
    tray = trays(cast)
    tray.lines.create(copy=first, ordinal=1)
    if is_one_copy:
        tray.lines.create(copy=first, ordinal=2)
    else:
        tray.lines.create(copy=second, ordinal=1)


def pauses(cast: Cast, times: int = 1, **facts: Any) -> None:
    holder = factories.make_holder(cast.north)
    row = {"holder": holder, "until": timezone.localdate(), "reason": "Ill", "made_by": cast.desk} | facts
    for _ in range(times):
        DuePause.objects.create(**row)


def feeds(cast: Cast, times: int = 1, digest: str = "a" * 64) -> None:
    for _ in range(times):
        CalendarFeed.objects.create(user=cast.desk, digest=digest)


FORBIDDEN: dict[str, Callable[[Cast], object]] = {
    "tray_is_one_for_each_way": lambda cast: trays(cast, times=2),
    "tray_is_for_one_taker": a_tray_for_two,
    "tray_of_a_day_names_it": lambda cast: trays(cast, due="at"),
    "tray_holds_a_key_once": lambda cast: two_lines(cast, is_one_copy=True),
    "tray_line_has_its_own_place": lambda cast: two_lines(cast, is_one_copy=False),
    "due_reminders_are_apart_and_end": lambda cast: DueRules.objects.create(site=cast.north, repeat_days=0),
    "due_pause_says_why": lambda cast: pauses(cast, reason=""),
    "holder_has_one_pause_at_a_time": lambda cast: pauses(cast, times=2),
    "due_pause_that_was_ended_says_by_whom": lambda cast: pauses(cast, ended_at=timezone.now()),
    "calendar_feed_has_its_own_secret": lambda cast: feeds(cast, times=2),
    "calendar_feed_is_of_a_site_or_ones_own": lambda cast: CalendarFeed.objects.create(
        user=cast.desk, digest="a" * 64, shows="orders"
    ),
    "calendar_feed_keeps_a_digest": lambda cast: feeds(cast, digest=""),
}
