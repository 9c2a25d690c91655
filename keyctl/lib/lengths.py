"""Lengths for people, in the unit that they read; the arithmetic is in inches, and exact.

An inch is 25.4 mm, no more and no less: so agreed internationally in 1959 (named in NIST SP 811).
"""

from contextvars import ContextVar
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from django.utils.formats import number_format
from django.utils.translation import gettext as _

MM_PER_INCH: Final = Decimal("25.4")

AS_MEASURED: Final = ""
INCH: Final = "inch"
MM: Final = "mm"

# What the person in front of the page chose.
units: ContextVar[str] = ContextVar("units_of_lengths", default=AS_MEASURED)

Length = float | Decimal

# Finer than any tool of the bench; below it lies what binary figures make of a decimal one.
GRAIN = Decimal("1e-9")
# A tenth of a thousandth is finer than any micrometer of the bench reads; so is a thousandth of a millimetre.
INCH_DIGITS, MM_DIGITS = 4, 3
LEAST_INCH_DIGITS = 3


def to_mm(inches: Decimal) -> Decimal:
    """
    >>> to_mm(Decimal("0.0125"))
    Decimal('0.31750')
    """
    return inches * MM_PER_INCH


def to_inches(mm: Decimal) -> Decimal:
    """
    >>> to_inches(Decimal("3.81"))
    Decimal('0.15')
    """
    return mm / MM_PER_INCH


def reads_mm() -> bool:
    return units.get() == MM


def exact(inches: Length) -> Decimal:
    """The decimal figure that was meant, without what binary figures add to it.

    >>> exact(0.11 + 2 * 0.0125)
    Decimal('0.135')
    """
    return Decimal(str(inches)).quantize(GRAIN).normalize()


def inch_figure(inches: Length) -> str:
    """Three decimals, four where the length needs them.

    >>> inch_figure(0.018), inch_figure(0.0125)
    ('0.018', '0.0125')
    """
    rounded = round(exact(inches), INCH_DIGITS)
    digits = LEAST_INCH_DIGITS if rounded == round(rounded, LEAST_INCH_DIGITS) else INCH_DIGITS
    return number_format(rounded, digits)


def mm_figure(inches: Length) -> str:
    """Three decimals.

    >>> mm_figure(0.0125)
    '0.318'
    """
    return number_format(round(_mm(inches), MM_DIGITS), MM_DIGITS)


def length(inches: Length) -> str:
    """As the person reads it; the other unit stands beside it where rounding would lose something.

    >>> length(0.0125)
    '0.0125 in (0.318 mm)'
    """
    in_inches, in_mm = f"{inch_figure(inches)} in", f"{mm_figure(inches)} mm"
    if _reads_mm_first(inches):
        first, other, is_whole = in_mm, in_inches, _is_whole_in_mm(inches)
    else:
        first, other, is_whole = in_inches, in_mm, _is_whole_in_inches(inches)
    return first if is_whole and units.get() else f"{first} ({other})"


def figure(inches: Length) -> str:
    """Without the name of the unit, for drawings that name it once."""
    return mm_figure(inches) if reads_mm() else inch_figure(inches)


@dataclass(frozen=True)
class Shown:
    """Which columns a table of lengths has: both where nobody chose."""

    inches: bool
    mm: bool

    @property
    def mm_digits(self) -> int:
        """Alone they tell what inches would; beside those, as a machine is set."""
        return 2 if self.inches else MM_DIGITS


def shown() -> Shown:
    return Shown(inches=units.get() != MM, mm=units.get() != INCH)


# What is finer than a cut: distances to a line, and tolerances.
HUNDREDTHS_PER_THOUSANDTH: Final = Decimal("2.54")


def fine(thousandths: float) -> float:
    """Thousandths of an inch, or for who reads millimetres hundredths of one."""
    return thousandths * float(HUNDREDTHS_PER_THOUSANDTH) if reads_mm() else thousandths


def fine_unit() -> str:
    return _("hundredths of a millimetre") if reads_mm() else _("thousandths of an inch")


def _reads_mm_first(inches: Length) -> bool:
    """A format that was made in millimetres shows by its figures: whole ones there, and none in inches."""
    if units.get():
        return reads_mm()
    return _is_whole_in_mm(inches) and not _is_whole_in_inches(inches)


def _mm(inches: Length) -> Decimal:
    return to_mm(Decimal(str(inches))).quantize(GRAIN)


def _is_whole_in_mm(inches: Length) -> bool:
    return _mm(inches) == round(_mm(inches), MM_DIGITS)


def _is_whole_in_inches(inches: Length) -> bool:
    return exact(inches) == round(exact(inches), INCH_DIGITS)
