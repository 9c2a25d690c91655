"""How far a tablet's clock is off, in words."""

from django import template
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

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
        return pgettext("a clock", "right")
    words = _("{time} ahead") if seconds > 0 else _("{time} behind")
    if size < 120:
        return words.format(time=_("{count} s").format(count=size))
    if size < 7200:
        return words.format(time=_("{count} min").format(count=size // 60))
    return words.format(time=_("{count} h").format(count=size // 3600))


@register.filter
def is_off(seconds: int | None) -> bool:
    return seconds is not None and abs(seconds) > MOST_SKEW_SECONDS
