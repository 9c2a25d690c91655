"""Amounts as people write them."""

from django import template

from keyctl.lib.money import amount_words

register = template.Library()


@register.filter
def money(amount: int) -> str:
    """From the smallest unit.

    >>> money(2050)
    '20.50'
    """
    return amount_words(amount)
