"""Days as moments: a day that something is due lasts until it ends where the house stands."""

from datetime import MAXYEAR, MINYEAR, date, datetime, time

from django.utils import timezone


def end_of_day(day: date) -> datetime:
    """The last second of the day in the time zone of the house: the second one where clocks go back at night.

    >>> end_of_day(date(2030, 1, 31)).strftime("%d %H:%M:%S")
    '31 23:59:59'
    """
    return moment_on(day, time(23, 59, 59, fold=1))


def start_of_day(day: date) -> datetime:
    return moment_on(day, time.min)


def moment_on(day: date, hour: time) -> datetime:
    """In the first and the last year some time zones have no such moment: the nearest year stands for them.

    >>> moment_on(date(9999, 12, 31), time(23, 59)).year, moment_on(date(1, 1, 1), time(0)).year
    (9998, 2)
    """
    if day.year in {MINYEAR, MAXYEAR}:
        day = date(MINYEAR + 1, 1, 1) if day.year == MINYEAR else date(MAXYEAR - 1, 12, 31)
    return timezone.make_aware(datetime.combine(day, hour), timezone.get_default_timezone())


def ends_its_day(moment: datetime) -> bool:
    """Whether the moment stands for a whole day, so that pages name the day alone."""
    return timezone.localtime(moment).time().replace(microsecond=0) == time(23, 59, 59)


def said(moment: datetime) -> str:
    """The day, and the hour where the moment does not stand for the whole day."""
    local = timezone.localtime(moment)
    return f"{local:%-d %b %Y}" if ends_its_day(moment) else f"{local:%-d %b %Y, %H:%M}"
