"""What a locksmith may do to one core."""

from typing import Any

from django import forms
from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.cores.models import Core
from keyctl.cores.typedkey import typed_key, typed_key_field
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem

PLACES = [
    (Core.Place.SHELF, gettext_lazy("On the shelf")),
    (Core.Place.BENCH, gettext_lazy("On the bench")),
    (Core.Place.CASE, gettext_lazy("In my case")),
    (Core.Place.GONE, gettext_lazy("Gone: lost or scrapped")),
]


class RevealForm(ServiceForm):
    """Nobody is asked why: an open order or a permission says it. A key may be typed, to be pushed in."""

    key = typed_key_field()
    bitting: engine.Bitting | None = None

    def __init__(self, *args: Any, core: Core, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "reveal_%s")
        super().__init__(*args, **kwargs)
        self.format_id = core.format_id

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.bitting = typed_key(self, self.format_id)
        return self.cleaned_data


class MoveForm(ServiceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)
    place = forms.ChoiceField(label=gettext_lazy("Where is it now?"), choices=PLACES)


class KeyedForm(ServiceForm):
    """Which keys of which system shall turn a core."""

    system = forms.ModelChoiceField(
        KeySystem.objects.none(),
        label=gettext_lazy("Key system"),
        empty_label=gettext_lazy("Choose a system"),
    )
    names = forms.CharField(
        label=gettext_lazy("Keyed to"),
        max_length=200,
        help_text=gettext_lazy(
            "A key symbol, such as AA1. Several for a cross-keyed core, with commas between them."
        ),
        widget=forms.TextInput(attrs={"class": "code", "autocomplete": "off", "spellcheck": "false"}),
    )

    def __init__(self, *args: Any, sites: "models.QuerySet[Site]", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        system = self.fields["system"]
        assert isinstance(system, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        system.queryset = KeySystem.objects.at_sites(sites).order_by("code")

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
            self.add_error(
                "names",
                _("{system} has no key called ‘{name}’; look it up in its tree.").format(
                    system=system, name=name
                ),
            )
        return found


class RegisterForm(KeyedForm):
    """A core as it comes out of the box: where it belongs, and which keys shall turn it."""

    site = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("Site"), empty_label=None)
    field_order = ("site", "system", "names")

    def __init__(self, *args: Any, sites: "models.QuerySet[Site]", **kwargs: Any) -> None:
        super().__init__(*args, sites=sites, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        site.queryset = sites


class CorrectForm(KeyedForm):
    """What a new core was meant to be keyed to, where that was written down wrongly."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, core: Core, **kwargs: Any) -> None:
        names = ", ".join(sorted(map(str, core.keyed_to.all())))
        kwargs["initial"] = {"system": core.system, "names": names, "version": core.version}
        kwargs.setdefault("auto_id", "correct_%s")
        super().__init__(*args, sites=Site.objects.filter(pk=core.site_id), **kwargs)


class BulkForm(ServiceForm):
    """A core each for many change keys of one system."""

    site = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("Site"), empty_label=None)
    name = forms.CharField(
        label=gettext_lazy("Below which master key?"),
        required=False,
        max_length=20,
        help_text=gettext_lazy("Its symbol, such as AA. Empty for the whole system."),
        widget=forms.TextInput(attrs={"class": "code", "autocomplete": "off", "spellcheck": "false"}),
    )
    count = forms.IntegerField(
        label=gettext_lazy("How many cores?"),
        min_value=1,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
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
                self.add_error(
                    "name",
                    _("{system} has no master key called ‘{name}’.").format(system=self.system, name=name),
                )
        return facts


class PinWaitingForm(ServiceForm):
    """Which site's unpinned cores."""

    site = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("Site"), empty_label=None)

    def __init__(self, *args: Any, sites: "models.QuerySet[Site]", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # It stands beside another form that asks for a site.
        self.auto_id = "id_waiting_%s"
        field = self.fields["site"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        field.queryset = sites
