"""Days as moments: a day that something is due lasts until it ends where the house stands."""

from datetime import date, datetime, time

from django.utils import timezone


def end_of_day(day: date) -> datetime:
    """The last second of the day in the time zone of the house.

    >>> end_of_day(date(2030, 1, 31)).strftime("%d %H:%M:%S")
    '31 23:59:59'
    """
    return timezone.make_aware(datetime.combine(day, time(23, 59, 59)), timezone.get_default_timezone())


def start_of_day(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min), timezone.get_default_timezone())


def ends_its_day(moment: datetime) -> bool:
    """Whether the moment stands for a whole day, so that pages name the day alone."""
    return timezone.localtime(moment).time().replace(microsecond=0) == time(23, 59, 59)


def said(moment: datetime) -> str:
    """The day, and the hour where the moment does not stand for the whole day."""
    local = timezone.localtime(moment)
    return f"{local:%-d %B %Y}" if ends_its_day(moment) else f"{local:%-d %B %Y, %H:%M}"
