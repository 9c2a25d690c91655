"""Acts on one copy, and cutting new ones. The services decide; forms only read."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.keys.forms.fields import DueForm, HolderField, at_site, offer
from keyctl.keys.models import Cabinet, DeskSettings, KeyCopy
from keyctl.keys.services import MOST_AT_ONCE, Signature
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem


class CopyForm(ServiceForm):
    """Every act on a copy carries the version of the copy that the page showed."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, copy: KeyCopy, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["version"].initial = copy.version


class HandOutForm(CopyForm, DueForm):
    holder = HolderField(
        label=gettext_lazy("Who takes it"),
        max_length=120,
        help_text=gettext_lazy("The name or e-mail address as registered."),
    )
    signed_as = forms.CharField(
        label=gettext_lazy("Signature"),
        max_length=120,
        help_text=gettext_lazy("The person who takes the key types their own name."),
    )
    field_order = ("version", "holder", "due_on", "due_hour", "signed_as")

    def __init__(self, *args: Any, copy: KeyCopy, **kwargs: Any) -> None:
        super().__init__(*args, copy=copy, **kwargs)
        at_site(self, "holder", copy.site)


class TransferForm(CopyForm, DueForm):
    to = HolderField(
        label=gettext_lazy("Who takes it over"),
        max_length=120,
        help_text=gettext_lazy("The name or e-mail address as registered."),
    )
    signed_as = forms.CharField(
        label=gettext_lazy("Signature"),
        max_length=120,
        help_text=gettext_lazy("The person who takes the key over types their own name."),
    )
    field_order = ("version", "to", "due_on", "due_hour", "signed_as")

    def __init__(self, *args: Any, copy: KeyCopy, **kwargs: Any) -> None:
        super().__init__(*args, copy=copy, **kwargs)
        at_site(self, "to", copy.site)

    def clean(self) -> dict[str, Any]:
        facts = super().clean()
        facts["signature"] = Signature(facts.pop("signed_as", ""))
        return facts


class CabinetForm(CopyForm):
    cabinet = forms.ModelChoiceField(
        Cabinet.objects.none(), label=gettext_lazy("Into the cabinet"), empty_label=None
    )

    def __init__(self, *args: Any, copy: KeyCopy, **kwargs: Any) -> None:
        super().__init__(*args, copy=copy, **kwargs)
        offer(self, "cabinet", Cabinet.objects.filter(site=copy.site).select_related("site"))


class TakeBackForm(CabinetForm):
    brought_by = forms.CharField(
        label=gettext_lazy("Brought by"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("If it was not the holder."),
    )
    condition = forms.CharField(
        label=gettext_lazy("What it is like"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("Bent, worn, a foreign ring on it."),
    )


class FoundForm(CabinetForm):
    note = forms.CharField(
        label=gettext_lazy("Where it was found, and by whom"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class LostForm(CopyForm):
    note = forms.CharField(
        label=gettext_lazy("What happened"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Where and when it was last seen, and who said so."),
    )


class DestroyForm(CopyForm):
    reason = forms.CharField(
        label=gettext_lazy("How and why"), max_length=400, widget=forms.Textarea(attrs={"rows": 3})
    )


class BrokenForm(CopyForm):
    note = forms.CharField(
        label=gettext_lazy("What is wrong"), max_length=400, widget=forms.Textarea(attrs={"rows": 3})
    )


class RevealForm(ServiceForm):
    """Nothing is asked: an open order or a permission says why."""


class CutForm(ServiceForm):
    system = forms.ModelChoiceField(
        KeySystem.objects.none(), label=gettext_lazy("Key system"), empty_label=None
    )
    name = forms.CharField(
        label=gettext_lazy("Key symbol"), max_length=20, widget=forms.TextInput(attrs={"class": "code"})
    )
    cabinet = forms.ModelChoiceField(
        Cabinet.objects.none(), label=gettext_lazy("Into the cabinet"), empty_label=None
    )
    count = forms.IntegerField(label=gettext_lazy("How many"), min_value=1, max_value=MOST_AT_ONCE, initial=1)
    stamp = forms.CharField(
        label=gettext_lazy("Stamped with"),
        max_length=20,
        required=False,
        help_text=gettext_lazy("Empty: its serial. Several copies are numbered behind the text."),
    )

    def __init__(self, *args: Any, site: Site, symbol: KeySymbol | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if symbol:
            self.initial = {"system": symbol.system, "name": symbol.symbol}
        offer(self, "system", site.key_systems.all())
        offer(self, "cabinet", site.cabinets.select_related("site"))
        if not _allows_stamps(site):
            del self.fields["stamp"]

    def clean(self) -> dict[str, Any]:
        """The system and the symbol's name together say which key; the service takes only the key."""
        facts = dict(super().clean() or self.cleaned_data)
        system, name = facts.pop("system", None), facts.pop("name", "")
        if system and name:
            facts["symbol"] = self._symbol(system, name)
        return facts

    def _symbol(self, system: KeySystem, name: str) -> KeySymbol | None:
        found = KeySymbol.objects.select_related("system").filter(system=system, symbol__iexact=name).first()
        if found is None:
            self.add_error("name", _("{system} has no key called {name}.").format(system=system, name=name))
        return found


def _allows_stamps(site: Site) -> bool:
    settings = DeskSettings.objects.filter(site=site).first()
    return settings is not None and settings.stamping != DeskSettings.Stamping.SERIAL
