"""Words for a key's place in its system."""

from django import template

from keyctl.systems.models import KeySymbol

register = template.Library()


@register.filter
def rank(symbol: KeySymbol) -> str:
    """Top master key, master key of level 1, change key or control key."""
    if not symbol.is_master:
        return symbol.get_kind_display()
    return "Top master key" if symbol.level == 0 else f"Master key, level {symbol.level}"
