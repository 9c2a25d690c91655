"""Days as a person says them in the morning."""

from datetime import date, datetime

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.lib.days import day as said_day
from keyctl.start.blocks import Mark, Tone

FEW_DAYS = 7
HOURS = 48


def due_mark(day: date, today: date) -> Mark | None:
    """Nothing is said of a day that is still far off."""
    days = (day - today).days
    if days < 0:
        return Mark(Tone.BAD, late_words(-days))
    if days == 0:
        return Mark(Tone.WARN, _("Due today"))
    if days == 1:
        return Mark(Tone.WAIT, _("Due tomorrow"))
    return None


def late_words(days: int) -> str:
    """
    >>> late_words(1), late_words(12)
    ('1 day late', '12 days late')
    """
    return ngettext("{days} day late", "{days} days late", days).format(days=days)


def day_words(day: date | datetime) -> str:
    """
    >>> day_words(date(2031, 3, 4))
    '4 Mar 2031'
    """
    if isinstance(day, datetime):
        day = timezone.localdate(day)
    return said_day(day)


def since_words(moment: datetime, now: datetime) -> str:
    """In hours for two days, then in days."""
    hours = int((now - moment).total_seconds() // 3600)
    if hours < 1:
        return _("less than an hour ago")
    if hours < HOURS:
        return ngettext("{hours} hour ago", "{hours} hours ago", hours).format(hours=hours)
    return ngettext("{days} day ago", "{days} days ago", hours // 24).format(days=hours // 24)


def doors_words(count: int) -> str:
    return ngettext("{count} door", "{count} doors", count).format(count=count)


def keys_words(count: int) -> str:
    return ngettext("{count} key", "{count} keys", count).format(count=count)
