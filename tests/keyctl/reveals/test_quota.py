"""How much one person may see: at the edges of an hour and a day, beyond the quota, and against a model.

The model is written out of the rule alone: of the looks of the last hour and the last day, those that count.
"""

from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils import timezone

from keyctl.audit.models import Event
from keyctl.lib.errors import Conflict, Refused
from keyctl.places.models import Membership
from keyctl.places.roles import Role
from keyctl.reveals.errors import Missing
from keyctl.reveals.grounds import Ground
from keyctl.reveals.models import Limits, Reveal
from keyctl.reveals.selectors import limits_at, quotas_of
from keyctl.reveals.services import ask_for_more, grant, reveal, set_limits, withdraw_permission
from tests import factories
from tests.keyctl.reveals.bench import Bench, looks_of, question
from tests.signing import proven

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NOON = datetime(2030, 5, 4, 12, tzinfo=UTC)


class Clock:
    def __init__(self) -> None:
        self.now = NOON

    def set(self, moment: datetime) -> None:
        self.now = moment


@pytest.fixture
def clock(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Clock:
    """Everything the bench needs is there before the clock is held."""
    found = Clock()
    monkeypatch.setattr(timezone, "now", lambda: found.now)
    return found


def ask(bench: Bench, times: int = 1, **facts: Any) -> list[Any]:
    """Looks that want no ground: what is left is the count."""
    return reveal(
        actor=bench.smith,
        sign_in=proven(bench.smith),
        wanted=lambda: [question(bench, **facts) for _ in range(times)],
    )


def more(bench: Bench, count: int, minutes: int = 480) -> Any:
    second = bench.second()
    asked = ask_for_more(actor=bench.smith, site=bench.site, count=count, reason="A long night")
    facts: dict[str, Any] = {"actor": second, "sign_in": proven(second), "decision": "It is so"}
    return grant(permission=asked, minutes=minutes, **facts)


class TestEdges:
    def test_an_hour_ago_to_the_microsecond_no_longer_counts(self, bench: Bench, clock: Clock) -> None:
        bench.limit(alone_an_hour=1)
        ask(bench)
        clock.set(NOON + HOUR - timedelta(microseconds=1))
        with pytest.raises(Missing, match="more than may be looked at now"):
            ask(bench)
        clock.set(NOON + HOUR)
        ask(bench)

    def test_a_day_ago_to_the_microsecond_no_longer_counts(self, bench: Bench, clock: Clock) -> None:
        bench.limit(alone_an_hour=1, alone_a_day=2)
        ask(bench)
        clock.set(NOON + 2 * HOUR)
        ask(bench)
        clock.set(NOON + DAY - timedelta(microseconds=1))
        with pytest.raises(Missing):
            ask(bench)
        clock.set(NOON + DAY)
        ask(bench)

    def test_the_edges_are_of_time_passed_and_of_no_calendar(self, bench: Bench, clock: Clock) -> None:
        """Two hours of the clock, or two days of the calendar, are not twice the quota."""
        bench.limit(alone_an_hour=2)
        clock.set(datetime(2030, 5, 4, 23, 59, tzinfo=UTC))
        ask(bench, 2)
        clock.set(datetime(2030, 5, 5, 0, 1, tzinfo=UTC))
        with pytest.raises(Missing):
            ask(bench)

    def test_it_says_when_the_next_place_comes_free(self, bench: Bench, clock: Clock) -> None:
        bench.limit(alone_an_hour=1, alone_a_day=2)
        ask(bench)
        with pytest.raises(Missing, match="comes free at 4 May, 13:00") as refusal:
            ask(bench)
        assert [way.url for way in refusal.value.ways] == [f"/reveals/more/{bench.site.pk}/"]
        clock.set(NOON + 2 * HOUR)
        ask(bench)
        with pytest.raises(Missing, match="comes free at 5 May, 12:00"):
            ask(bench)

    def test_a_refused_look_counts_for_nothing(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=1)
        ask(bench)
        for _ in range(3):
            with pytest.raises(Missing):
                ask(bench)
        assert looks_of(bench.smith) == 1
        assert Event.objects.filter(verb="test.asked").count() == 1

    def test_a_sheet_counts_each_thing_and_is_shown_whole_or_not_at_all(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=2, alone_a_day=5)
        ask(bench)
        with pytest.raises(Missing, match="These are 2 things, and 1 may still be looked at now"):
            ask(bench, 2)
        assert looks_of(bench.smith) == 1


class TestTwoQuotas:
    def test_work_has_a_larger_one_of_its_own(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=1, at_work_an_hour=2)
        bench.order()
        ask(bench)
        bench.look()
        bench.look()
        with pytest.raises(Missing, match="for work of yours"):
            bench.look()
        with pytest.raises(Missing):
            ask(bench)

    def test_the_defaults_are_those_that_are_documented(self, bench: Bench) -> None:
        (row,) = quotas_of(bench.smith)
        assert (row.alone.an_hour, row.alone.a_day) == (20, 60)
        assert (row.at_work.an_hour, row.at_work.a_day) == (300, 800)

    def test_it_counts_at_all_sites_together(self, bench: Bench) -> None:
        Membership.objects.create(user=bench.smith, site=bench.cast.south, role=Role.LOCKSMITH)
        bench.limit(alone_an_hour=1)
        ask(bench, sites=(bench.cast.south,))
        with pytest.raises(Missing):
            ask(bench)

    def test_a_thing_of_two_sites_is_under_the_narrower_limits(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=1)
        both = (bench.cast.south, bench.site)
        ask(bench, sites=both)
        with pytest.raises(Missing):
            ask(bench, sites=both)

    def test_each_person_has_their_own(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=1)
        other = factories.make_user(site=bench.site, role=Role.LOCKSMITH)
        ask(bench)
        reveal(actor=other, sign_in=proven(other), wanted=lambda: [question(bench)])
        assert Reveal.objects.count() == 2


class TestMore:
    def test_an_officer_lets_somebody_see_more(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=1)
        ask(bench)
        permission = more(bench, 2)
        ask(bench, 2)
        assert permission.reveals_beyond.count() == 2
        with pytest.raises(Missing):
            ask(bench)

    def test_what_is_under_the_quota_takes_none_of_it(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=2)
        permission = more(bench, 1)
        ask(bench, 3)
        assert permission.reveals_beyond.count() == 1

    def test_two_permissions_add_up(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=1)
        more(bench, 1)
        more(bench, 1)
        ask(bench, 3)
        with pytest.raises(Missing):
            ask(bench)

    def test_work_and_looks_alone_do_not_stand_on_the_same_place(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=1, at_work_an_hour=1)
        work: dict[str, Any] = {"thing": bench.key(), "is_question": False, "ground": Ground("for work")}
        ask(bench)
        ask(bench, **work)
        permission = more(bench, 1)
        with pytest.raises(Missing):
            reveal(
                actor=bench.smith,
                sign_in=proven(bench.smith),
                wanted=lambda: [question(bench), question(bench, **work)],
            )
        assert permission.reveals_beyond.count() == 0

    def test_it_ends(self, bench: Bench, clock: Clock) -> None:
        bench.limit(alone_an_hour=1)
        ask(bench)
        more(bench, 5, minutes=30)
        clock.set(NOON + timedelta(minutes=30))
        with pytest.raises(Missing):
            ask(bench)

    def test_it_ends_when_it_is_taken_back(self, bench: Bench) -> None:
        bench.limit(alone_an_hour=1)
        ask(bench)
        withdraw_permission(actor=bench.smith, permission=more(bench, 5))
        with pytest.raises(Missing):
            ask(bench)

    def test_it_is_for_one_site(self, bench: Bench) -> None:
        Membership.objects.create(user=bench.smith, site=bench.cast.south, role=Role.LOCKSMITH)
        more(bench, 5)
        Limits.objects.create(site=bench.cast.south, alone_an_hour=1, alone_a_day=1)
        ask(bench, sites=(bench.cast.south,))
        with pytest.raises(Missing):
            ask(bench, sites=(bench.cast.south,))


def test_it_agrees_with_a_model_over_a_week_of_looks(bench: Bench, clock: Clock) -> None:
    """Moments drawn by chance; the model keeps the moments itself and counts them."""
    bench.limit(alone_an_hour=3, alone_a_day=8)
    rng, seen, refused = Random(20300504), list[datetime](), 0
    for _ in range(120):
        clock.set(clock.now + timedelta(minutes=rng.choice([0, 1, 5, 20, 45, 60, 90, 600])))
        hour = sum(clock.now - each < HOUR for each in seen)
        day = sum(clock.now - each < DAY for each in seen)
        try:
            ask(bench)
        except Missing:
            refused += 1
            assert hour >= 3 or day >= 8
        else:
            assert hour < 3
            assert day < 8
            seen.append(clock.now)
    assert len(seen) > 10
    assert refused > 10


NUMBERS = {"alone_an_hour": 10, "alone_a_day": 30, "at_work_an_hour": 400, "at_work_a_day": 900}


class TestLimits:
    def test_an_administrator_sets_them(self, bench: Bench) -> None:
        admin = bench.cast.administrator
        set_limits(actor=admin, site=bench.site, version=1, **NUMBERS)
        found = limits_at(bench.site)
        assert str(found) == "limits at North site"
        assert {name: getattr(found, name) for name in NUMBERS} == NUMBERS
        with pytest.raises(Conflict):
            set_limits(actor=admin, site=bench.site, version=1, **NUMBERS)
        assert Event.objects.get(verb="reveal.limits_set").detail == NUMBERS

    @pytest.mark.parametrize(
        "wrong",
        [
            {"alone_an_hour": 0},
            {"alone_an_hour": 101, "alone_a_day": 200},
            {"alone_a_day": 9},
            {"alone_a_day": 301},
            {"at_work_an_hour": 0},
            {"at_work_an_hour": 1001, "at_work_a_day": 2000},
            {"at_work_a_day": 399},
            {"at_work_a_day": 3001},
        ],
    )
    def test_bounds_that_nobody_lifts(self, bench: Bench, wrong: dict[str, int]) -> None:
        with pytest.raises(Refused):
            set_limits(actor=bench.cast.administrator, site=bench.site, version=1, **(NUMBERS | wrong))
        assert not Limits.objects.exists()

    @pytest.mark.parametrize("name", ["locksmith", "desk", "manager", "officer", "auditor", "requester"])
    def test_nobody_else_sets_them(self, bench: Bench, name: str) -> None:
        with pytest.raises(PermissionDenied):
            set_limits(actor=bench.cast.everybody[name], site=bench.site, version=1, **NUMBERS)

    def test_nor_does_a_stranger(self, bench: Bench) -> None:
        with pytest.raises(Http404):
            set_limits(actor=bench.cast.stranger, site=bench.site, version=1, **NUMBERS)
