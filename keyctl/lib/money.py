"""Amounts of money, kept in the smallest unit, as the language of the page writes numbers."""

from decimal import Decimal

from keyctl.lib.numbers import as_number

SMALLEST = Decimal("0.01")


def amount_words(amount: int) -> str:
    """
    >>> amount_words(205000)
    '2,050.00'
    """
    return as_number((amount * SMALLEST).quantize(SMALLEST))


def money_words(amount: int, currency: str) -> str:
    return f"{amount_words(amount)} {currency}".strip()
