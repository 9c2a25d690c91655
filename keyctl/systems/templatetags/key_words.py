"""Words for a key's place in its system."""

from django import template
from django.utils.translation import gettext as _

from keyctl.systems.models import KeySymbol

register = template.Library()


@register.filter
def rank(symbol: KeySymbol) -> str:
    """Top master key, master key of level 1, change key or control key."""
    if not symbol.is_master:
        return symbol.get_kind_display()
    if symbol.level == 0:
        return _("Top master key")
    return _("Master key, level {level}").format(level=symbol.level)
