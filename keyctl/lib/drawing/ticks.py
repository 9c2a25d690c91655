"""Where marks stand on an axis: round numbers from nought, dates that people name; never too dense."""

from bisect import bisect_left
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from math import ceil

from django.utils import timezone
from django.utils.formats import date_format

from keyctl.lib import days
from keyctl.lib.drawing.scales import TimeScale
from keyctl.lib.moments import start_of_day

# Of the figures of an axis, set at 12 pixels: the widest digits of the faces we name, and air between two.
SIGN, AIR = 8, 12
# Steps of the axis of dates, the finest first: so many days, or so many months.
DAYS = (1, 2, 7, 14)
MONTHS = (1, 2, 3, 6, 12, 24, 60, 120, 240, 600, 1200)


@dataclass(frozen=True)
class Tick:
    place: int
    words: str


def count_steps(most: float, at_most: int = 5) -> list[int]:
    """Round whole numbers from 0 to the first that is not below ``most``; so many steps at most.

    >>> count_steps(7), count_steps(0), count_steps(23_400, 4)
    ([0, 2, 4, 6, 8], [0, 1], [0, 10000, 20000, 30000])
    """
    least = max(ceil(most / at_most), 1)
    power = 10 ** (len(str(least)) - 1)
    step = next(each * power for each in (1, 2, 5, 10) if each * power >= least)
    return list(range(0, step * max(ceil(most / step), 1) + 1, step))


def date_ticks(scale: TimeScale) -> list[Tick]:
    """The finest marks whose words keep apart at this width: days, weeks, months or years."""
    for words, marked in _steps(scale):
        found = [Tick(scale.x(start_of_day(day)), words(day)) for day in marked]
        if len(found) >= 2 and _keep_apart(found):
            return found
    return _one(scale)


def _steps(scale: TimeScale) -> Iterator[tuple[Callable[[date], str], list[date]]]:
    """Only steps that can fit: a mark takes forty pixels at least, whatever it says."""
    first, last = timezone.localdate(scale.first), timezone.localdate(scale.last)
    most = scale.width // 40 + 1
    length = (last - first).days
    for step in DAYS:
        if length <= step * most:
            yield days.short_day, _days(first, last, step, scale.first)
    for months in MONTHS:
        if length <= months * 31 * most:
            yield (_year if months % 12 == 0 else _month), _months(first, last, months, scale.first)


def _days(first: date, last: date, step: int, begin: datetime) -> list[date]:
    """Weeks begin on Mondays; whatever the step, a day that is marked stays so when the axis moves on."""
    day = first + timedelta(days=-first.toordinal() % step + (1 if step % 7 == 0 else 0))
    found = []
    while day <= last:
        found.append(day)
        day += timedelta(days=step)
    return [each for each in found if start_of_day(each) >= begin]


def _months(first: date, last: date, step: int, begin: datetime) -> list[date]:
    number = -(-(first.year * 12 + first.month - 1) // step) * step
    found = []
    while number <= last.year * 12 + last.month - 1:
        found.append(date(number // 12, number % 12 + 1, 1))
        number += step
    return [each for each in found if begin <= start_of_day(each) and each <= last]


def _month(day: date) -> str:
    return date_format(day, "Y-m" if days.style.get() == days.ISO else "M Y")


def _year(day: date) -> str:
    return str(day.year)


def _keep_apart(ticks: list[Tick]) -> bool:
    return all(right.place - left.place >= _room(left, right) for left, right in pairwise(ticks))


def _room(left: Tick, right: Tick) -> float:
    """Words stand in the middle below their mark."""
    return (len(left.words) + len(right.words)) * SIGN / 2 + AIR


def _one(scale: TimeScale) -> list[Tick]:
    """A time too short, or an axis too narrow, for two marks: its first day."""
    return [Tick(scale.left, days.day(timezone.localdate(scale.first)))]


def spread(places: list[int], gap: int, lowest: int) -> list[int]:
    """The places moved as far apart as ``gap``, in their order, and none below ``lowest``.

    >>> spread([10, 12, 40], 10, 99), spread([40, 12, 10], 10, 99), spread([50, 50], 10, 50)
    ([10, 20, 40], [40, 20, 10], [40, 50])
    """
    order = sorted(range(len(places)), key=lambda nth: (places[nth], nth))
    moved = [places[nth] for nth in order]
    for nth in range(1, len(moved)):
        moved[nth] = max(moved[nth], moved[nth - 1] + gap)
    room = lowest
    for nth in reversed(range(len(moved))):
        moved[nth] = min(moved[nth], room)
        room = moved[nth] - gap
    by_place = dict(zip(order, moved, strict=True))
    return [by_place[nth] for nth in range(len(places))]


def months_until(last: date, count: int) -> list[date]:
    """The first days of so many months, the month of ``last`` at the end.

    >>> [str(day) for day in months_until(date(2026, 2, 14), 3)]
    ['2025-12-01', '2026-01-01', '2026-02-01']
    """
    numbers = range(last.year * 12 + last.month - count, last.year * 12 + last.month)
    return [date(number // 12, number % 12 + 1, 1) for number in numbers]


def month_of(months: list[date], day: date) -> int:
    """Which of the months a day is in, from 0; -1 for one before them all.

    >>> month_of([date(2026, 1, 1), date(2026, 2, 1)], date(2026, 2, 28))
    1
    """
    return bisect_left(months, day.replace(day=1) + timedelta(days=1)) - 1
