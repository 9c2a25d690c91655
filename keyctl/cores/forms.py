"""What a locksmith may do to one core."""

from typing import Any

from django import forms
from django.db import models

from keyctl.cores.models import Core
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem

PLACES = [
    (Core.Place.SHELF, "On the shelf"),
    (Core.Place.BENCH, "On the bench"),
    (Core.Place.CASE, "In my case"),
    (Core.Place.GONE, "Gone: lost or scrapped"),
]


class RevealForm(ServiceForm):
    """Nothing is asked: an open order or a permission says why."""


class MoveForm(ServiceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)
    place = forms.ChoiceField(label="Where is it now?", choices=PLACES)


class RegisterForm(ServiceForm):
    """A core as it comes out of the box: where it belongs, and which keys shall turn it."""

    site = forms.ModelChoiceField(Site.objects.none(), empty_label=None)
    system = forms.ModelChoiceField(
        KeySystem.objects.none(), label="Key system", empty_label="Choose a system"
    )
    names = forms.CharField(
        label="Keyed to",
        max_length=200,
        help_text="A key symbol, such as AA1. Several for a cross-keyed core, with commas between them.",
        widget=forms.TextInput(attrs={"class": "code", "autocomplete": "off", "spellcheck": "false"}),
    )

    def __init__(self, *args: Any, sites: "models.QuerySet[Site]", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        systems = KeySystem.objects.at_sites(sites).order_by("code")
        for name, choices in (("site", sites), ("system", systems)):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
            field.queryset = choices

    def clean(self) -> dict[str, Any]:
        """The system and the names together say which keys; the service takes the keys."""
        facts = dict(super().clean() or self.cleaned_data)
        names, system = facts.pop("names", ""), facts.get("system")
        if system:
            found = [self._symbol(system, name.strip()) for name in names.split(",")]
            facts["symbols"] = [symbol for symbol in found if symbol]
        return facts

    def _symbol(self, system: KeySystem, name: str) -> KeySymbol | None:
        found = KeySymbol.objects.filter(system=system, symbol__iexact=name).first()
        if found is None:
            self.add_error("names", f"{system} has no key called ‘{name}’; look it up in its tree.")
        return found


class BulkForm(ServiceForm):
    """A core each for many change keys of one system."""

    site = forms.ModelChoiceField(Site.objects.none(), empty_label=None)
    name = forms.CharField(
        label="Below which master key?",
        required=False,
        max_length=20,
        help_text="Its symbol, such as AA. Empty for the whole system.",
        widget=forms.TextInput(attrs={"class": "code", "autocomplete": "off", "spellcheck": "false"}),
    )
    count = forms.IntegerField(
        label="How many cores?", min_value=1, widget=forms.NumberInput(attrs={"inputmode": "numeric"})
    )

    def __init__(self, *args: Any, sites: "models.QuerySet[Site]", system: KeySystem, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.system = system
        field = self.fields["site"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        field.queryset = sites

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        if name := facts.pop("name", ""):
            facts["below"] = KeySymbol.objects.filter(
                system=self.system, symbol__iexact=name, kind=KeySymbol.Kind.MASTER
            ).first()
            if facts["below"] is None:
                self.add_error("name", f"{self.system} has no master key called ‘{name}’.")
        return facts


class PinWaitingForm(ServiceForm):
    """Which site's unpinned cores."""

    site = forms.ModelChoiceField(Site.objects.none(), empty_label=None)

    def __init__(self, *args: Any, sites: "models.QuerySet[Site]", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["site"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        field.queryset = sites
