"""Lengths in the unit of the reader, against conversions that others published.

An inch is 25.4 mm exactly: the international yard and pound agreement of 1959, and the table of NIST SP 811
(2008), appendix B.8 (both from memory).
"""

from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keyctl.accounts.speaking import speaking
from keyctl.lib import lengths

TENTHS_OF_A_THOUSANDTH = st.integers(0, 20_000)
THOUSANDTHS_OF_A_MM = st.integers(0, 50_000)


@contextmanager
def reading(units: str) -> Iterator[None]:
    with speaking("en-gb", units=units):
        yield


@pytest.mark.parametrize(
    ("inches", "mm"), [("1", "25.4"), ("0.5", "12.7"), ("0.001", "0.0254"), ("0.125", "3.175"), ("10", "254")]
)
def test_published_conversions(inches: str, mm: str) -> None:
    assert lengths.to_mm(Decimal(inches)) == Decimal(mm)
    assert lengths.to_inches(Decimal(mm)) == Decimal(inches)


@given(TENTHS_OF_A_THOUSANDTH)
def test_inches_come_back_from_millimetres_as_they_were(tenths: int) -> None:
    inches = Decimal(tenths) / 10_000
    assert lengths.to_mm(inches) == Fraction(tenths, 10_000) * Fraction(254, 10)
    assert lengths.to_inches(lengths.to_mm(inches)) == inches


@given(THOUSANDTHS_OF_A_MM)
def test_typed_millimetres_come_back_as_they_were(micrometres: int) -> None:
    """Also through the binary figure in which a format keeps them."""
    mm = Decimal(micrometres) / 1000
    kept = float(lengths.to_inches(mm))
    assert Decimal(lengths.mm_figure(kept)) == mm


@given(TENTHS_OF_A_THOUSANDTH)
def test_what_is_shown_alone_is_the_whole_length(tenths: int) -> None:
    """Nothing is rounded away unseen: one figure that stands alone is exact, else both units stand there."""
    exact = Fraction(tenths, 10_000)
    for units, per_inch in (("inch", Fraction(1)), ("mm", Fraction(254, 10))):
        with reading(units):
            shown = lengths.length(float(exact))
        if "(" not in shown:
            assert Fraction(shown.split()[0]) == exact * per_inch
        else:
            assert units == "mm"
            assert Fraction(shown.split("(")[1].split()[0]) == exact


@given(st.floats(0, 1))
def test_a_shown_figure_is_off_by_half_its_last_digit_at_most(inches: float) -> None:
    with reading("mm"):
        assert abs(Fraction(lengths.figure(inches)) - Fraction(inches) * Fraction(254, 10)) <= Fraction(
            6, 10_000
        )
    with reading("inch"):
        assert abs(Fraction(lengths.figure(inches)) - Fraction(inches)) <= Fraction(6, 100_000)


@pytest.mark.parametrize(
    ("units", "inches", "shown"),
    [
        ("", 0.0125, "0.0125 in (0.318 mm)"),
        ("", 0.125, "0.125 in (3.175 mm)"),
        ("inch", 0.0125, "0.0125 in"),
        ("inch", 0.11 + 2 * 0.0125, "0.135 in"),
        ("mm", 0.125, "3.175 mm"),
        ("mm", 0.0125, "0.318 mm (0.0125 in)"),
        # Half a millimetre, as a format made in millimetres keeps it: 0.0196850… in.
        ("", 0.5 / 25.4, "0.500 mm (0.0197 in)"),
        ("mm", 0.5 / 25.4, "0.500 mm"),
        ("inch", 0.5 / 25.4, "0.0197 in (0.500 mm)"),
    ],
)
def test_lengths_as_chosen(units: str, inches: float, shown: str) -> None:
    with reading(units):
        assert lengths.length(inches) == shown


def test_figures_are_written_as_the_language_writes_them() -> None:
    """German has a comma before the decimals (DIN 1333)."""
    with speaking("de", units="mm"):
        assert lengths.length(0.125) == "3,175 mm"


def test_a_thousandth_of_an_inch_is_two_and_a_half_hundredths_of_a_millimetre() -> None:
    with reading("mm"):
        assert lengths.fine(4.0) == pytest.approx(4 * 0.0254 * 100)
    with reading("inch"):
        assert lengths.fine(4.0) == 4.0


def test_one_reader_does_not_set_the_units_of_the_next() -> None:
    with reading("mm"):
        pass
    assert lengths.units.get() == ""
