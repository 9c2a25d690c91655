"""The pins of a core, chamber by chamber, as they lie on the tray."""

import json
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.bench.forms.units import (
    CODE,
    INCHES,
    MM,
    TOLERANCE_IN,
    in_inches,
    read_length,
    tolerance_field,
    unit_field,
    unit_of,
)
from keyctl.cores.typedkey import typed_key, typed_key_field
from keyctl.lib.forms import ServiceForm

SEPARATORS = str.maketrans(",;/", "   ")
LONGEST_PIN_IN = 1
MOST_DIGITS = 3
NO_PINS = "-"
MEASURED = {
    INCHES: gettext_lazy("Inches, by micrometer"),
    MM: gettext_lazy("Millimetres, by micrometer"),
}


class Chambers(ServiceForm):
    """One line per position: its pins from the key upwards, with blanks between them."""

    def __init__(self, *args: Any, format: engine.CoreFormat, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.format = format
        self.unit = unit_of(self.data if self.is_bound else None)
        for position in range(1, format.positions + 1):
            self.fields[f"pins_{position}"] = forms.CharField(
                label=self._label(position),
                max_length=120,
                widget=forms.TextInput(attrs=CODE),
                error_messages={
                    "required": _("Enter its pins, or {no_pins} where there are none.").format(
                        no_pins=NO_PINS
                    )
                },
            )

    @property
    def chamber_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith("pins_")]

    def _label(self, position: int) -> str:
        if position in self.format.sleeve and len(self.format.sleeve) < self.format.positions:
            return _("No. {position}, under the sleeve").format(position=position)
        return _("No. {position}").format(position=position)

    def tokens(self, position: int) -> list[str]:
        text = str(self.cleaned_data.get(f"pins_{position}", ""))
        return [] if text == NO_PINS else text.translate(SEPARATORS).split()

    @property
    def positions(self) -> range:
        return range(1, self.format.positions + 1)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        counts = {position: len(self.tokens(position)) for position in self.positions}
        if not self.errors and not any(counts.values()):
            self.add_error(None, _("Enter the pins of one position at least."))
        for position, count in counts.items():
            if count == 1:
                self.add_error(
                    f"pins_{position}", _("One pin alone makes no stack: a top pin stands above it.")
                )
        return said

    def lengths(self) -> list[list[float]]:
        return [self._lengths_at(position) for position in self.positions]

    def _lengths_at(self, position: int) -> list[float]:
        found = []
        for token in self.tokens(position):
            length = read_length(token, self.unit)
            if length is None or not 0 <= length <= LONGEST_PIN_IN:
                self.add_error(f"pins_{position}", self._no_length(token))
            found.append(float(length or 0))
        return found

    def _no_length(self, token: str) -> str:
        if self.unit == MM:
            return _("‘{token}’ is no length in millimetres, like 3.75.").format(token=token[:12])
        return _("‘{token}’ is no length in inches, like .1475.").format(token=token[:12])

    def _tolerance(self) -> float:
        typed = self.cleaned_data.get("tolerance_in")
        return float(TOLERANCE_IN if typed is None else in_inches(typed, self.unit))


class MeasuredPins(Chambers):
    """Pins by micrometer."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["units"] = unit_field(self.unit)
        self.fields["tolerance_in"] = tolerance_field(self.unit)

    def clean(self) -> dict[str, Any]:
        super().clean()
        measured = self.lengths()
        if self.errors:
            return self.cleaned_data
        return {"measured_in": measured, "tolerance_in": self._tolerance()}


class PinsTakenOut(Chambers):
    """Pins by kit number or by micrometer, and a key to push into them where one is typed."""

    bitting: engine.Bitting | None = None

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["units"] = forms.ChoiceField(
            label=_("How do you say their sizes?"),
            choices=[("kit", _("Kit numbers")), (self.unit, MEASURED[self.unit])],
            widget=forms.RadioSelect,
            initial="kit",
        )
        self.fields["tolerance_in"] = tolerance_field(self.unit, required=False)
        self.fields["key"] = typed_key_field()

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        self.bitting = typed_key(self, self.format.id)
        if said.get("units") != self.unit:
            stacks = [self._stack(position) for position in self.positions]
            return said if self.errors else {"stacks": json.dumps(stacks)}
        measured = self.lengths()
        if self.errors:
            return said
        return {"measured_in": measured, "tolerance_in": self._tolerance()}

    def _stack(self, position: int) -> dict[str, Any]:
        """The roles follow from where a pin stands: bottom, masters, control under the sleeve, top."""
        sizes = self._sizes(position)
        has_control = position in self.format.sleeve and len(sizes) > 2
        return {
            "position": position,
            "bottom": sizes[0] if sizes else 0,
            "masters": sizes[1 : -2 if has_control else -1],
            "control": sizes[-2] if has_control else None,
            "top": sizes[-1] if sizes else 0,
        }

    def _sizes(self, position: int) -> list[int]:
        found = []
        tokens = self.tokens(position)
        for place, token in enumerate(tokens, 1):
            is_control = position in self.format.sleeve and place == len(tokens) - 1
            size = self._size(token, is_control=is_control)
            if size is None:
                self.add_error(f"pins_{position}", self._no_size(token, is_control=is_control))
            found.append(size or 0)
        return found

    def _size(self, token: str, *, is_control: bool) -> int | None:
        """A pin's size in increments; some shops number a control pin from the sleeve: +2, -1."""
        digits = token[1:] if is_control and self._is_relative else token
        if not digits.isdecimal() or len(digits) > MOST_DIGITS:
            return None
        if not (is_control and self._is_relative):
            return int(digits)
        return self.format.addition + int(token) if token[0] in "+-" else None

    def _no_size(self, token: str, *, is_control: bool) -> str:
        if is_control and self._is_relative:
            return _("Write the control pin with its sign, like +2, not ‘{token}’.").format(token=token[:12])
        return _("‘{token}’ is no kit number.").format(token=token[:12])

    @property
    def _is_relative(self) -> bool:
        return self.format.control is not None and self.format.control.numbering == "relative"


class RecordFound(ServiceForm):
    """The pins just read, to be recorded as what is in the core."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    stacks = forms.CharField(max_length=4000, widget=forms.HiddenInput)
    despite_doubts = forms.BooleanField(
        label=gettext_lazy("I measured the doubtful positions again and stand by these pins"), required=False
    )
