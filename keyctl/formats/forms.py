"""What people say about a core format, field by field, and what the engine says back."""

from collections.abc import Callable, Sequence
from typing import Any, cast

from django import forms
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.engine import CoreFormat
from keyctl.formats.fields import PLAIN, DriversField, SizesField
from keyctl.formats.models import LONGEST_ID
from keyctl.formats.parameters import parameters_from, unit_here
from keyctl.formats.refusals import field_errors
from keyctl.formats.selectors import constructions
from keyctl.formats.services import wrong_id, wrong_name
from keyctl.formats.wording import CONTROLS, NUMBERINGS, ORDERS
from keyctl.lib.forms import ServiceForm
from keyctl.lib.language import Text
from keyctl.places.constructions import construction_words

UNITS = {
    "thousandths": gettext_lazy("Thousandths of an inch, like 12.5"),
    "inches": gettext_lazy("Inches, like 0.0125"),
    "mm": gettext_lazy("Millimetres, like 0.3175"),
}
NAMES = ("name", "format_id", "construction")
# A length outside these inches was meant in the other unit.
PLAUSIBLE = {"increment": (0.001, 0.1), "base_pin": (0.02, 1.0)}
# What only a sleeve has.
SLEEVE_ONLY = ("sleeve_positions", "addition", "total_sleeve", "pins_control")
CODE = {**PLAIN, "class": "code"}


def _length(label: Text, hint: Text = "", *, required: bool = False) -> forms.DecimalField:
    return forms.DecimalField(label=label, help_text=hint, required=required, min_value=0, max_digits=12)


class FormatForm(ServiceForm):
    """Its cleaned facts are those of `make_format`; `format` is what the engine reads from them so far."""

    name = forms.CharField(max_length=120, label=gettext_lazy("Name"))
    format_id = forms.CharField(
        max_length=LONGEST_ID,
        label="Id",
        help_text=gettext_lazy("Small letters, digits and hyphens. It never changes."),
        widget=forms.TextInput(attrs=CODE),
    )
    construction = forms.ChoiceField(
        label=gettext_lazy("Construction"),
        help_text=gettext_lazy("A core goes into a housing of its own construction."),
    )

    positions = forms.IntegerField(
        label=gettext_lazy("Positions"), help_text=gettext_lazy("Cuts of a key, 1 to 16.")
    )
    order = forms.ChoiceField(label=gettext_lazy("Bittings are read"), choices=ORDERS.items())
    depths = forms.CharField(
        max_length=64,
        label=gettext_lazy("Depth symbols"),
        help_text=gettext_lazy("From shallow to deep, without blanks: 0123456789."),
        widget=forms.TextInput(attrs=CODE),
    )
    depth_values = SizesField(
        required=False,
        label=gettext_lazy("What the symbols count"),
        help_text=gettext_lazy(
            "Only if not 0, 1, 2 and so on. Where 0 means ten: symbols 1234567890, counts 1-10."
        ),
    )
    step = forms.IntegerField(
        label=gettext_lazy("Progression step"),
        help_text=gettext_lazy("Operating cuts of a position are a multiple of this apart."),
    )
    macs = forms.IntegerField(
        required=False,
        label=gettext_lazy("Greatest difference of adjacent cuts"),
        help_text=gettext_lazy("Leave it empty where there is no limit."),
    )

    unit = forms.ChoiceField(
        label=gettext_lazy("Lengths on this page are in"), choices=UNITS.items(), initial=unit_here
    )
    increment = _length(gettext_lazy("Increment"), gettext_lazy("From one depth to the next."), required=True)
    base_pin = _length(
        gettext_lazy("Lowest bottom pin"),
        gettext_lazy("The pin that fills the shallowest cut."),
        required=True,
    )

    control_kind = forms.ChoiceField(label=gettext_lazy("What takes the core out?"), choices=CONTROLS.items())
    sleeve_positions = SizesField(
        required=False, label=gettext_lazy("Positions under the sleeve"), help_text=gettext_lazy("Like 3-4.")
    )
    addition = forms.IntegerField(
        required=False,
        label=gettext_lazy("Control addition"),
        help_text=gettext_lazy("How many increments the control line lies above the operating line."),
    )
    numbering = forms.ChoiceField(
        required=False, label=gettext_lazy("Control pins are numbered"), choices=NUMBERINGS.items()
    )

    total_sleeve = forms.IntegerField(
        required=False,
        label=gettext_lazy("Stack total under the sleeve"),
        help_text=gettext_lazy("All pins of a position."),
    )
    total_plain = forms.IntegerField(
        required=False,
        label=gettext_lazy("Stack total elsewhere"),
        help_text=gettext_lazy("Or give a driver table instead."),
    )
    drivers = DriversField(
        required=False,
        label=gettext_lazy("Driver table"),
        help_text=gettext_lazy(
            "Plug totals and driver, one row per line: 0-3: 1. Plug total: the deepest operating cut."
        ),
    )

    pins_bottom = SizesField(
        label=gettext_lazy("Bottom pins"), help_text=gettext_lazy("Sizes in the kit, like 0-9 or 0, 2, 4-9.")
    )
    pins_master = SizesField(required=False, label=gettext_lazy("Master pins"))
    pins_control = SizesField(
        required=False, label=gettext_lazy("Control pins"), help_text=gettext_lazy("Only with a sleeve.")
    )
    pins_top = SizesField(label=gettext_lazy("Top pins"))

    first_cut = _length(
        gettext_lazy("To the middle of the first cut"),
        gettext_lazy("From the shoulder or the tip, whichever is read first."),
    )
    spacing = _length(gettext_lazy("From cut to cut"))
    plug_diameter = _length(
        gettext_lazy("Plug diameter"), gettext_lazy("A cut's root depth is this less its bottom pin.")
    )

    # Sections of rows; the fields of a row stand side by side where there is room.
    SECTIONS = (
        (gettext_lazy("Names"), (("name", "format_id"), ("construction",))),
        (gettext_lazy("Cuts"), (("positions", "order"), ("depths", "depth_values"), ("step", "macs"))),
        (gettext_lazy("Lengths"), (("unit",), ("increment", "base_pin"))),
        (gettext_lazy("Control"), (("control_kind",), ("sleeve_positions", "addition"), ("numbering",))),
        (gettext_lazy("Stacks"), (("total_sleeve", "total_plain"), ("drivers",))),
        (gettext_lazy("Kit"), (("pins_bottom", "pins_master"), ("pins_control", "pins_top"))),
        (gettext_lazy("Drawing a key"), (("first_cut", "spacing"), ("plug_diameter",))),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.format: CoreFormat | None = None
        choices = [(name, construction_words(name)) for name in constructions()]
        cast(forms.ChoiceField, self.fields["construction"]).choices = choices

    @property
    def sections(self) -> list[tuple[Text, list[list[forms.BoundField]]]]:
        return [(title, [[self[name] for name in row] for row in rows]) for title, rows in self.SECTIONS]

    def clean_format_id(self) -> str:
        return _unless(self.cleaned_data["format_id"], wrong_id)

    def clean_name(self) -> str:
        return _unless(self.cleaned_data["name"], wrong_name)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        parameters = parameters_from(said)
        self._refuse_the_other_unit(parameters)
        self._refuse_a_sleeve_without_one(said)
        self._ask_the_engine(parameters)
        return {**{name: said.get(name) for name in NAMES}, "parameters": parameters}

    def _refuse_the_other_unit(self, parameters: dict[str, Any]) -> None:
        for field, (least, most) in PLAUSIBLE.items():
            length = parameters[f"{field}_in"]
            if length is not None and not least <= length <= most:
                self.add_error(
                    field,
                    _("{length} in is not from {least} to {most} in; check the unit of lengths.").format(
                        length=number_format(f"{length:g}"),
                        least=number_format(str(least)),
                        most=number_format(str(most)),
                    ),
                )

    def _refuse_a_sleeve_without_one(self, said: dict[str, Any]) -> None:
        if said.get("control_kind") in (None, "sleeve"):
            return
        for field in SLEEVE_ONLY:
            if said.get(field):
                self.add_error(
                    field, _("Only a sleeve has this; empty it, or choose the sleeve under Control.")
                )

    def _ask_the_engine(self, parameters: dict[str, Any]) -> None:
        """A field that is wrong already is not told a second time that it is missing."""
        try:
            parsed = engine.parse_format(parameters)
        except engine.RefusedByEngine as refused:
            for field, sentence in field_errors(refused):
                if field is None or field not in self.errors:
                    self.add_error(field, sentence)
            return
        if set(self.errors) <= set(NAMES):
            self.format = parsed


def _unless(value: str, wrong: Callable[[str], str | None]) -> str:
    if reason := wrong(value):
        raise forms.ValidationError(reason)
    return value


class KeywayFitForm(ServiceForm):
    """A row of the blank table; the keyways are those of key systems."""

    blank_keyway = forms.ChoiceField(label=gettext_lazy("A blank of keyway"))
    core_keyway = forms.ChoiceField(label=gettext_lazy("enters cores of keyway"))
    reason = forms.CharField(
        max_length=200,
        label=gettext_lazy("How do you know?"),
        help_text=gettext_lazy("The blank table you read it in, or your own trial."),
    )

    def __init__(self, *args: Any, keyways: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("blank_keyway", "core_keyway"):
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)  # noqa: S101 (tells the type checker)
            field.choices = [(keyway, keyway) for keyway in keyways]
