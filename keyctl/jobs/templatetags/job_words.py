"""How long, in words; and what works on a thing, for the thing's own page."""

from datetime import timedelta
from typing import Any

from django import template
from django.db.models import Model

from keyctl.jobs.selectors import running_on as jobs_running_on

register = template.Library()

MINUTE = 60
HOUR = 60 * MINUTE


@register.filter
def rough_time(span: timedelta | None) -> str:
    """A length of time as people say it: no more exact than an estimate deserves."""
    if span is None:
        return ""
    seconds = max(0, round(span.total_seconds()))
    if not seconds:
        return "less than a second"
    if seconds < MINUTE:
        return f"{seconds} second{'s' if seconds != 1 else ''}"
    if seconds < HOUR:
        return f"{round(seconds / MINUTE)} min"
    hours, minutes = divmod(round(seconds / MINUTE), 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} hour{'s' if hours != 1 else ''}"


@register.filter
def fact(value: object) -> str:
    """A fact of an outcome; numbers in groups of three."""
    return f"{value:,}" if isinstance(value, int) else str(value)


@register.inclusion_tag("jobs/_running_on.html", takes_context=True)
def running_on(context: template.Context, thing: Model) -> dict[str, Any]:
    """A line for each unfinished job that works on a thing; nothing where none does."""
    return {"jobs": jobs_running_on(context["request"].user, thing)}
