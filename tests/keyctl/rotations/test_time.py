"""Days, dates, and who carries two keys for how long."""

from collections import defaultdict
from datetime import date, timedelta

import numpy as np
import pytest

from keyctl.keys import services as keys
from keyctl.rotations.bothkeys import both_keys
from keyctl.rotations.crews import Crew, days_ahead, ends
from keyctl.rotations.models import RotationDoor
from keyctl.rotations.selectors import progress_of
from tests import factories
from tests.keyctl.rotations.yard import Yard, fresh


@pytest.mark.parametrize("days", range(1, 13))
def test_days_ahead_skip_weekends_as_another_calendar_does(days: int) -> None:
    for begin in (date(2026, 11, 26) + timedelta(days=nth) for nth in range(7)):
        theirs = np.busday_offset(np.busday_offset(begin, 0, roll="forward"), days - 1)
        assert days_ahead(begin, days) == theirs.astype(object)


def test_waves_that_share_a_day_end_on_it() -> None:
    thursday = date(2026, 11, 26)
    assert ends(thursday, [0.5, 0.5, 0.2, 2.0]) == [
        thursday,
        thursday,
        date(2026, 11, 27),
        date(2026, 12, 1),
    ]


def test_a_crew_of_two_does_it_in_half_the_days() -> None:
    # 42 cores of 20 minutes and 2 visits of 30: 900 minutes; a day of one person has 420.
    assert Crew(1, 7, 8, 12, 30).days(42, 2) == pytest.approx(900 / 420)
    assert Crew(2, 7, 8, 12, 30).days(42, 2) == pytest.approx(450 / 420)
    assert Crew(1, 7, 8, 12, 30).waves_in(10, 42, 2) == 4


def test_who_carries_two_keys_is_counted_as_by_hand(yard: Yard) -> None:
    """Half way: for each old key and its master, the doors done and to do, from the doors themselves."""
    cabinet = factories.make_cabinet(yard.cast.north)
    copy, holder = factories.make_copy(yard.key("AA1"), cabinet), factories.make_holder(yard.cast.north)
    keys.hand_out(actor=yard.cast.desk, copy=copy, holder=holder, signed_as=holder.name)
    rotation = yard.accepted(allowed_days=3)
    yard.work(yard.begin(rotation))
    found = {row.old.symbol: row for row in both_keys(fresh(rotation), progress_of(fresh(rotation)))}
    states: dict[str, list[str]] = defaultdict(list)
    for door in RotationDoor.objects.all():
        for pair in door.keys.all():
            states[pair.old.symbol].append(door.state)
            states["AA"].append(door.state)
    half = {name for name, seen in states.items() if len(set(seen)) == 2}
    assert set(found) == half
    for name in half:
        row = found[name]
        assert (row.done, row.to_do) == (states[name].count("swapped"), states[name].count("waiting"))
        assert row.held == (name == "AA1")
    assert not any(row.is_late for row in found.values())


def test_keys_begun_are_finished_in_the_waves_that_are_left_to_them(yard: Yard) -> None:
    """With a day for two keys and a slow crew, the next plan takes the key that was begun first."""
    rotation = yard.accepted()
    first = yard.begin(rotation)
    yard.work(first)
    begun = set(first.doors.exclude(together="").values_list("together", flat=True))
    # Two doors of 200 minutes at the bench and a visit: a wave takes about a day, so two waves may follow.
    rotation = fresh(rotation)
    rotation.allowed_days, rotation.hours_a_day, rotation.bench_minutes = 3, 8, 200
    rotation.save()
    rotation = yard.plan(fresh(rotation))
    assert rotation.plan_words == ""
    for key in begun:
        last = rotation.doors.filter(together=key).order_by("-wave__ordinal")[0]
        assert last.wave is not None
        assert last.wave.ordinal <= 3
