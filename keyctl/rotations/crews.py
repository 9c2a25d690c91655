"""From people, hours and rates to days: how long a wave takes, and on which day it may be done.

Everything here is an estimate, in working days from Monday to Friday; the page says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor

from keyctl.losses.planning.costing import rates_of
from keyctl.rotations.models import Rotation

SATURDAY = 5
MINUTES_AN_HOUR = 60


@dataclass(frozen=True)
class Crew:
    people: int
    hours_a_day: int
    bench_minutes: int
    door_minutes: int
    visit_minutes: int

    @classmethod
    def of(cls, rotation: Rotation) -> "Crew":
        rates = rates_of(rotation.site)
        return cls(
            rotation.people,
            rotation.hours_a_day,
            rotation.bench_minutes,
            rates.minutes_per_core,
            rates.minutes_per_visit,
        )

    def days(self, doors: int, visits: int) -> float:
        """Working days for so many doors in so many visits, pinning and all."""
        minutes = doors * (self.bench_minutes + self.door_minutes) + visits * self.visit_minutes
        return minutes / (self.people * self.hours_a_day * MINUTES_AN_HOUR)

    def waves_in(self, days: int, doors: int, visits: int) -> int:
        """How many waves of so many doors and visits fit into these days."""
        each = self.days(doors, visits)
        return floor(days / each) if each else days


def days_ahead(begin: date, days: float) -> date:
    """The working day on which so much work is done that begins in the morning of a day."""
    day = _working(begin)
    for _ in range(max(ceil(days - 1e-9) - 1, 0)):
        day = _working(day + timedelta(days=1))
    return day


def ends(begin: date, each: Sequence[float]) -> list[date]:
    """One wave after the other."""
    gone, found = 0.0, []
    for days in each:
        gone += days
        found.append(days_ahead(begin, gone))
    return found


def _working(day: date) -> date:
    while day.weekday() >= SATURDAY:
        day += timedelta(days=1)
    return day
