"""The unit of what somebody measured: the form says it and sends it along, so that it is read in no other."""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from keyctl.lib import lengths

CODE = {"class": "code", "autocomplete": "off", "spellcheck": "false"}
INCHES, MM = "inches", "mm"
LEAST_TOLERANCE_IN, MOST_TOLERANCE_IN, TOLERANCE_IN = Decimal("0.0001"), Decimal("0.01"), Decimal("0.002")
PLACES = {INCHES: 4, MM: 3}


def unit_of(sent: Mapping[str, object] | None) -> str:
    """As the form says that was sent; a new one asks in the unit that the person reads."""
    if sent is not None and sent.get("units") in (INCHES, MM):
        return str(sent["units"])
    if sent is not None and "units" not in sent:
        return INCHES
    return MM if lengths.reads_mm() else INCHES


def in_inches(typed: Decimal, unit: str) -> Decimal:
    return lengths.to_inches(typed) if unit == MM else typed


def read_length(text: str, unit: str) -> Decimal | None:
    """In inches; None where it is no figure.

    >>> read_length("3.81", MM), read_length(".15", INCHES), read_length("nan", MM)
    (Decimal('0.15'), Decimal('0.15'), None)
    """
    try:
        typed = Decimal(text)
    except InvalidOperation:
        return None
    return in_inches(typed, unit) if typed.is_finite() else None


def in_unit(inches: Decimal, unit: str) -> Decimal:
    """Rounded to what somebody would type."""
    typed = lengths.to_mm(inches) if unit == MM else inches
    return round(typed, PLACES[unit]).normalize()


def unit_field(unit: str) -> forms.ChoiceField:
    """Out of sight: the labels say the unit, this carries it."""
    return forms.ChoiceField(
        choices=[(INCHES, INCHES), (MM, MM)], initial=unit, required=False, widget=forms.HiddenInput
    )


def tolerance_field(unit: str, *, least: Decimal = LEAST_TOLERANCE_IN, **facts: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=_("Tolerance, millimetres") if unit == MM else _("Tolerance, inches"),
        min_value=in_unit(least, unit),
        max_value=in_unit(MOST_TOLERANCE_IN, unit),
        initial=in_unit(TOLERANCE_IN, unit),
        decimal_places=5,
        widget=forms.TextInput(attrs=CODE | {"inputmode": "decimal"}),
        **{"help_text": _("How far a measurement may be off."), **facts},
    )
