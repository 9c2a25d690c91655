"""Days and moments in words, as whoever looks at them reads dates."""

from contextvars import ContextVar
from datetime import date, datetime
from typing import Final

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import pgettext

from keyctl.lib.moments import ends_its_day

BY_LANGUAGE: Final = ""
ISO: Final = "iso"
MONTH_FIRST: Final = "month"

style: ContextVar[str] = ContextVar("style_of_dates", default=BY_LANGUAGE)


def day(value: date | None) -> str:
    """27 Nov 2026"""
    return date_format(value, _pattern()) if value else ""


def weekday(value: date | None) -> str:
    """Friday, 27 November 2026"""
    # Translators: a day with its name and its month in full.
    return date_format(value, pgettext("date", "l, j F Y")) if value else ""


def short_day(value: date | None) -> str:
    """27 Nov"""
    return date_format(value, _short_pattern()) if value else ""


def moment(value: datetime | None) -> str:
    """27 Nov 2026, 14:05"""
    return _with_time(value, _pattern(), "H:i")


def short_moment(value: datetime | None) -> str:
    """27 Nov, 14:05"""
    return _with_time(value, _short_pattern(), "H:i")


def exact_moment(value: datetime | None) -> str:
    """27 Nov 2026, 14:05:09"""
    return _with_time(value, _pattern(), "H:i:s")


def day_or_moment(value: datetime) -> str:
    """The day in the house's own time, and the hour where the moment does not stand for the whole day."""
    local = timezone.localtime(value)
    return day(local) if ends_its_day(value) else moment(local)


def _with_time(value: datetime | None, pattern: str, time: str) -> str:
    return date_format(value, f"{pattern}{' ' if style.get() == ISO else ', '}{time}") if value else ""


def _pattern() -> str:
    match style.get():
        case "iso":
            return "Y-m-d"
        case "month":
            return "M j, Y"
        case _:
            # Translators: how a day is written, in the letters of Django's date filter.
            return pgettext("date", "j M Y")


def _short_pattern() -> str:
    match style.get():
        case "iso":
            return "m-d"
        case "month":
            return "M j"
        case _:
            # Translators: the same without the year.
            return pgettext("date", "j M")
