"""How long, in words; and what works on a thing, for the thing's own page."""

from datetime import timedelta
from typing import Any

from django import template
from django.db.models import Model
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from keyctl.jobs import selectors
from keyctl.jobs.models import Job
from keyctl.lib.numbers import as_number
from keyctl.lib.retold import retold

register = template.Library()
register.filter("retold", retold)

MINUTE = 60
HOUR = 60 * MINUTE
# Below that a number of seconds would change at each look.
SHORT = 45
# From here on minutes are told in fives, and from there on in half hours.
MANY_MINUTES, MANY_HOURS = 10 * MINUTE, 2 * HOUR


@register.filter
def rough_time(span: timedelta | None) -> str:
    """A length of time as people say it: no more exact than an estimate deserves."""
    if span is None:
        return ""
    seconds = max(0, round(span.total_seconds()))
    if not seconds:
        return _("less than a second")
    if seconds < MINUTE:
        return ngettext("{count} second", "{count} seconds", seconds).format(count=seconds)
    if seconds < HOUR:
        return _("{count} min").format(count=round(seconds / MINUTE))
    hours, minutes = divmod(round(seconds / MINUTE), 60)
    if minutes:
        return _("{hours} h {minutes} min").format(hours=hours, minutes=minutes)
    return ngettext("{count} hour", "{count} hours", hours).format(count=hours)


@register.filter
def time_left(job: Job) -> str:
    """How long a job still takes, as a sentence begins; nothing before enough is known."""
    left = selectors.time_left(job)
    if left is None:
        return ""
    words = about(left)
    return (
        _("at most {time} left").format(time=words)
        if job.runs_by_limit
        else _("{time} left").format(time=words)
    )


def about(span: timedelta) -> str:
    """No more exact than an estimate deserves, so that it does not change at each look."""
    seconds = span.total_seconds()
    if seconds < SHORT:
        return _("less than a minute")
    if seconds >= MANY_HOURS:
        return _("about {hours} hours").format(hours=_halves(seconds / HOUR))
    minutes = max(1, round(seconds / MINUTE))
    if seconds >= MANY_MINUTES:
        minutes = 5 * round(seconds / MINUTE / 5)
    return ngettext("about {n} minute", "about {n} minutes", minutes).format(n=minutes)


def _halves(hours: float) -> str:
    whole, half = divmod(round(2 * hours), 2)
    return f"{whole}½" if half else str(whole)


@register.filter
def fact(value: object) -> str:
    """A fact of an outcome; numbers in groups of three."""
    return as_number(value) if isinstance(value, int) else str(value)


@register.inclusion_tag("jobs/_running_on.html", takes_context=True)
def running_on(context: template.Context, thing: Model) -> dict[str, Any]:
    """A line for each unfinished job that works on a thing; nothing where none does."""
    return {"jobs": selectors.running_on(context["request"].user, thing)}
