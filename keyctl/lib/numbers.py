"""Numbers as the reader's language writes them."""

from decimal import Decimal

from django.utils.formats import number_format


def as_number(number: int | Decimal) -> str:
    """Thousands grouped; a decimal keeps its digits.

    >>> as_number(12_345), as_number(Decimal("0.50"))
    ('12,345', '0.50')
    >>> from django.utils import translation
    >>> with translation.override("de"):
    ...     as_number(12_345), as_number(Decimal("0.50"))
    ('12.345', '0,50')
    """
    return number_format(number, force_grouping=True)
