"""Days as moments where clocks change: held against going through the day in UTC by half hours."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import override_settings
from django.utils import timezone

from keyctl.lib.moments import end_of_day, ends_its_day, start_of_day

# Clocks change at midnight in Santiago, on a day in Berlin and Auckland, by half an hour on Lord Howe.
DAYS = [
    ("Europe/Berlin", date(2026, 3, 29)),
    ("Europe/Berlin", date(2026, 10, 25)),
    ("America/Santiago", date(2026, 4, 4)),
    ("America/Santiago", date(2026, 9, 6)),
    ("Pacific/Auckland", date(2026, 4, 5)),
    ("Australia/Lord_Howe", date(2026, 4, 5)),
    ("Pacific/Kiritimati", date(2028, 2, 29)),
]


@pytest.mark.parametrize(("zone", "day"), DAYS)
def test_a_day_ends_with_its_last_second_where_the_house_stands(zone: str, day: date) -> None:
    house = ZoneInfo(zone)
    around = datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(days=1)
    halves = [around + timedelta(minutes=30 * nth) for nth in range(3 * 48)]
    inside = [moment for moment in halves if moment.astimezone(house).date() == day]
    last = inside[-1] + timedelta(minutes=29, seconds=59)
    with override_settings(TIME_ZONE=zone):
        # Moments of two zones are never equal where clocks repeat an hour: compared by the count of seconds.
        assert end_of_day(day).timestamp() == last.timestamp()
        assert start_of_day(day).timestamp() == inside[0].timestamp()
        assert ends_its_day(end_of_day(day))
        assert timezone.localdate(end_of_day(day)) == day
