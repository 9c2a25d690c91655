"""How far a tablet's clock is off, in words."""

from django import template

from keyctl.field.models.events import MOST_SKEW_SECONDS

register = template.Library()


@register.filter
def off(seconds: int) -> str:
    """
    >>> off(40), off(-660), off(0), off(172_800)
    ('40 s ahead', '11 min behind', 'right', '48 h ahead')
    """
    size = abs(seconds)
    if not size:
        return "right"
    side = "ahead" if seconds > 0 else "behind"
    if size < 120:
        return f"{size} s {side}"
    return f"{size // 60} min {side}" if size < 7200 else f"{size // 3600} h {side}"


@register.filter
def is_off(seconds: int | None) -> bool:
    return seconds is not None and abs(seconds) > MOST_SKEW_SECONDS
