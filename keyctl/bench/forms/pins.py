"""The pins of a core, chamber by chamber, as they lie on the tray."""

import json
from typing import Any

from django import forms

from keyctl import engine
from keyctl.bench.forms.keys import CODE, tolerance_field
from keyctl.lib.forms import ServiceForm

SEPARATORS = str.maketrans(",;/", "   ")
LONGEST_PIN_IN = 1.0
MOST_DIGITS = 3
NO_PINS = "-"
UNITS = [("kit", "Kit numbers"), ("inches", "Inches, by micrometer")]


class Chambers(ServiceForm):
    """One line per position: its pins from the key upwards, with blanks between them."""

    def __init__(self, *args: Any, format: engine.CoreFormat, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.format = format
        for position in range(1, format.positions + 1):
            self.fields[f"pins_{position}"] = forms.CharField(
                label=self._label(position),
                max_length=120,
                widget=forms.TextInput(attrs=CODE),
                error_messages={"required": f"Enter its pins, or {NO_PINS} where there are none."},
            )

    @property
    def chamber_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith("pins_")]

    def _label(self, position: int) -> str:
        if position in self.format.sleeve and len(self.format.sleeve) < self.format.positions:
            return f"No. {position}, under the sleeve"
        return f"No. {position}"

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
            self.add_error(None, "Enter the pins of one position at least.")
        for position, count in counts.items():
            if count == 1:
                self.add_error(f"pins_{position}", "One pin alone makes no stack: a top pin stands above it.")
        return said

    def lengths(self) -> list[list[float]]:
        return [self._lengths_at(position) for position in self.positions]

    def _lengths_at(self, position: int) -> list[float]:
        found = []
        for token in self.tokens(position):
            try:
                length = float(token)
            except ValueError:
                length = -1.0
            if not 0 <= length <= LONGEST_PIN_IN:
                self.add_error(f"pins_{position}", f"‘{token[:12]}’ is no length in inches, like .1475.")
            found.append(length)
        return found


class MeasuredPins(Chambers):
    """Pins by micrometer."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tolerance_in"] = tolerance_field()

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        measured = self.lengths()
        if self.errors:
            return said
        return {"measured_in": measured, "tolerance_in": float(said["tolerance_in"])}


class PinsTakenOut(Chambers):
    """Pins by kit number or by micrometer."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["units"] = forms.ChoiceField(
            label="How do you say their sizes?", choices=UNITS, widget=forms.RadioSelect, initial="kit"
        )
        self.fields["tolerance_in"] = tolerance_field(required=False)

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if said.get("units") != "inches":
            stacks = [self._stack(position) for position in self.positions]
            return said if self.errors else {"stacks": json.dumps(stacks)}
        measured = self.lengths()
        if self.errors:
            return said
        return {"measured_in": measured, "tolerance_in": float(said.get("tolerance_in") or 0.002)}

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
            return f"Write the control pin with its sign, like +2, not ‘{token[:12]}’."
        return f"‘{token[:12]}’ is no kit number."

    @property
    def _is_relative(self) -> bool:
        return self.format.control is not None and self.format.control.numbering == "relative"


class RecordFound(ServiceForm):
    """The pins just read, to be recorded as what is in the core."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    stacks = forms.CharField(max_length=4000, widget=forms.HiddenInput)
    despite_doubts = forms.BooleanField(
        label="I measured the doubtful positions again and stand by these pins", required=False
    )
