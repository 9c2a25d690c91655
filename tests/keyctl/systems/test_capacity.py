"""How full a system is: room, made, in use, the pace, and the day it runs out."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from django.test import Client
from django.utils import timezone

from keyctl.cores.models import Keying
from keyctl.keys.models import KeyCopy
from keyctl.systems.capacity import Pace, level_uses, pace_of
from keyctl.systems.models import KeySymbol, KeySystem
from keyctl.systems.plotting import plot_capacity
from keyctl.systems.services import open_system
from tests import factories
from tests.cast import Cast

TODAY = date(2026, 7, 1)


@pytest.fixture
def system(cast: Cast) -> KeySystem:
    """Room for 4^2 masters, and for 4^2 changes below each of the two that are made; four changes are."""
    return factories.make_system(cast.north, actor=cast.administrator)


def used_on(cast: Cast, key: KeySymbol, day: date) -> None:
    copy = factories.make_copy(key, factories.make_cabinet(cast.north))
    KeyCopy.objects.filter(pk=copy.pk).update(cut_at=at(day))


def at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC)


def test_each_level_says_its_room_and_what_is_used(cast: Cast, system: KeySystem) -> None:
    used_on(cast, factories.symbol(system, "AA1"), TODAY)
    factories.make_core(
        actor=cast.locksmith, site=cast.north, system=system, symbols=[factories.symbol(system, "AB2")]
    )
    found = [(use.number, use.room, use.made, use.in_use, use.left) for use in level_uses(system)]
    assert found == [(1, 16, 2, 0, 14), (2, 32, 4, 2, 28)]


def test_the_first_use_of_a_key_counts_once(cast: Cast, system: KeySystem) -> None:
    key = factories.symbol(system, "AA1")
    for day in (date(2026, 5, 1), date(2026, 3, 1)):
        used_on(cast, key, day)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key])
    Keying.objects.filter(core=core).update(made_at=at(date(2026, 2, 1)))
    assert pace_of(system, TODAY).issued == [date(2026, 2, 1)]


def test_a_core_keyed_before_that_was_written_down_counts_from_the_keys_making(
    cast: Cast, system: KeySystem
) -> None:
    key = factories.symbol(system, "AA1")
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, symbols=[key])
    Keying.objects.filter(core=core).update(made_at=None)
    assert pace_of(system, TODAY).issued == [timezone.localdate(key.created_at)]


def test_the_pace_is_that_of_the_last_twelve_months(cast: Cast, system: KeySystem) -> None:
    days = [date(2024, 1, 1), date(2025, 9, 1), date(2026, 1, 1), date(2026, 6, 1)]
    for key, day in zip(system.symbols.filter(kind="change"), days, strict=True):
        used_on(cast, key, day)
    pace = pace_of(system, TODAY)
    assert pace.a_month == 3 / 12
    assert pace.left == 32 - 4
    months = 28 / 0.25
    assert pace.runs_out == TODAY + timedelta(days=months * 365.25 / 12)


def test_a_young_system_is_reckoned_by_the_months_since_its_first_issue(
    cast: Cast, system: KeySystem
) -> None:
    for key in system.symbols.filter(kind="change"):
        used_on(cast, key, date(2026, 5, 1))
    assert pace_of(system, TODAY).a_month == 2.0


def test_without_issue_there_is_no_day(system: KeySystem) -> None:
    pace = pace_of(system, TODAY)
    assert (pace.a_month, pace.runs_out, pace.left) == (0, None, 32)


def test_keys_without_a_progression_have_no_room_to_tell(cast: Cast) -> None:
    old = open_system(
        actor=cast.locksmith,
        sites=[cast.north],
        code="OLD",
        name="Old",
        format_id="fixed-6",
        keyway="K",
        levels=2,
    )
    assert [use.room for use in level_uses(old)] == [None]
    assert pace_of(old).left is None


def points(text: str) -> list[tuple[int, int]]:
    return [(int(x), int(y)) for x, y in (point.split(",") for point in text.split())]


def test_the_plot_rises_with_the_keys_and_ends_at_the_room() -> None:
    days = [TODAY - timedelta(days=30 * n) for n in range(10)]
    pace = Pace(sorted(days), 10 / 12, 20, TODAY + timedelta(days=365))
    plot = plot_capacity(pace, TODAY)
    past, ahead = points(plot.past), points(plot.to_come)
    assert len(past) == 25
    assert all(a[0] <= b[0] and a[1] >= b[1] for a, b in pairwise(past))
    assert past[-1] == ahead[0] == (plot.today, ahead[0][1])
    assert plot.room is not None
    assert ahead[1][1] == plot.room
    assert plot.runs_out == ahead[1]
    assert {y for _, y in past + ahead} <= set(range(plot.top, plot.bottom + 1))


def test_a_room_far_above_the_line_does_not_press_it_flat() -> None:
    pace = Pace([TODAY], 1 / 12, 1_000_000, None)
    plot = plot_capacity(pace, TODAY)
    assert plot.room is None
    assert points(plot.past)[-1][1] < plot.bottom


def test_the_page_tells_in_words_what_the_plot_shows(client: Client, cast: Cast, system: KeySystem) -> None:
    used_on(cast, factories.symbol(system, "AA1"), timezone.localdate())
    client.force_login(cast.auditor)
    page = client.get(f"/systems/{system.pk}/capacity/").content.decode()
    assert "1 of 32 change keys are in use" in page
    assert "they run out in" in page
    assert '<desc id="capacity-desc">1 in use today' in page
