"""A key by its symbol, and a key by its root depths."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.accounts.models import User
from keyctl.bench.forms.units import CODE, in_inches, in_unit, tolerance_field, unit_field, unit_of
from keyctl.cores.models import Core
from keyctl.cores.turning import KeyFamily
from keyctl.lib.forms import ServiceForm
from keyctl.systems.access import visible_systems
from keyctl.systems.models import KeySymbol

BLANKS = [
    ("operating", gettext_lazy("Ordinary blank")),
    ("control", gettext_lazy("Control blank, with the longer tip")),
]


class TryKey(ServiceForm):
    """A key of any visible system that enters the core's keyway."""

    def __init__(self, *args: Any, actor: User, core: Core, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        systems = visible_systems(actor).none()
        if core.system:
            systems = visible_systems(actor).filter(pk__in=KeyFamily.of(core.system).systems())
        self.fields["system"] = forms.ModelChoiceField(
            systems.order_by("code"), label=_("Key system"), initial=core.system, empty_label=None
        )
        self.fields["symbol"] = forms.CharField(
            max_length=20,
            label=_("Key symbol"),
            widget=forms.TextInput(attrs=CODE | {"autocapitalize": "characters"}),
        )
        control = engine.load_format(core.format_id).control
        if control is not None and control.kind == "tip":
            self.fields["blank"] = forms.ChoiceField(
                label=_("Cut on which blank?"), choices=BLANKS, widget=forms.RadioSelect, initial="operating"
            )

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if "system" not in said or "symbol" not in said:
            return said
        system = said.pop("system")
        keys = KeySymbol.objects.filter(system=system).select_related("system")
        symbol = keys.filter(symbol=said["symbol"].strip().upper()).first()
        if symbol is None:
            raise forms.ValidationError(
                _("{system} has no key {value}. Read it again.").format(
                    system=system, value=said["symbol"][:20]
                )
            )
        return said | {"symbol": symbol}


class RootDepths(ServiceForm):
    """One measurement per position, from the key's back to the bottom of the cut."""

    def __init__(self, *args: Any, format: engine.CoreFormat, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.format = format
        self.unit = unit_of(self.data if self.is_bound else None)
        self.fields["units"] = unit_field(self.unit)
        for position in range(1, format.positions + 1):
            self.fields[f"depth_{position}"] = forms.DecimalField(
                label=_("No. {position}").format(position=position),
                min_value=Decimal(0),
                max_value=in_unit(Decimal(1), self.unit),
                decimal_places=5,
                widget=forms.TextInput(attrs=CODE | {"inputmode": "decimal"}),
            )
        self.fields["tolerance_in"] = tolerance_field(self.unit)

    @property
    def depth_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith("depth_")]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if self.errors:
            return said
        typed = [said[f"depth_{position}"] for position in range(1, self.format.positions + 1)]
        depths = [float(in_inches(depth, self.unit)) for depth in typed]
        return {"root_depths_in": depths, "tolerance_in": float(in_inches(said["tolerance_in"], self.unit))}
