"""Amounts as people write them."""

from django import template

register = template.Library()


@register.filter
def money(amount: int) -> str:
    """From the smallest unit.

    >>> money(2050)
    '20.50'
    """
    return f"{amount // 100}.{amount % 100:02}"
