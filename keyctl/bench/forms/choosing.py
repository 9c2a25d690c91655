"""What lies on the bench: a known core, or something of a format."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.bench.access import core_tagged, workable_systems
from keyctl.cores.models import Core
from keyctl.formats.selectors import offered_formats
from keyctl.orders.access import workable_sites
from keyctl.places.models import Site

TAG = {"class": "code", "autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}


class TagField(forms.CharField):
    """The tag a core carries, typed or scanned; cleaned to the core itself."""

    def __init__(self, *, actor: User, **kwargs: Any) -> None:
        kwargs.setdefault("label", _("Tag on the core"))
        super().__init__(max_length=200, widget=forms.TextInput(attrs=TAG), **kwargs)
        self.actor = actor

    def clean(self, value: Any) -> Core | None:
        text = super().clean(value)
        if not text:
            return None
        if core := core_tagged(self.actor, text):
            return core
        raise forms.ValidationError(_("No core at your benches has this tag. Read it again."))


class ChooseCoreOrFormat(forms.Form):
    """A core by its tag; or a format, where the core is not in the records. The tag wins."""

    def __init__(self, *args: Any, actor: User, needs_core: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.needs_core = needs_core
        self.fields["tag"] = TagField(actor=actor, required=needs_core, help_text=_("Type or scan it."))
        if not needs_core:
            self._add_formats(workable_sites(actor))

    def _add_formats(self, sites: QuerySet[Site]) -> None:
        self.fields["format"] = forms.ChoiceField(
            label=_("Its construction, where it has no tag"),
            choices=[("", _("Choose a construction")), *offered_formats()],
            required=False,
        )
        if sites.count() > 1:
            self.fields["site"] = forms.ModelChoiceField(sites, label=_("At which site?"), empty_label=None)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if not self.needs_core and not self.errors and not said.get("tag") and not said.get("format"):
            raise forms.ValidationError(_("Type the tag on the core, or choose its construction."))
        return said


class ChooseKeySource(forms.Form):
    """The key system a key should belong to; or only its format."""

    def __init__(self, *args: Any, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["system"] = forms.ModelChoiceField(
            workable_systems(actor).order_by("code"),
            label=_("Key system it may belong to"),
            empty_label=_("None that I know of"),
            required=False,
        )
        self.fields["format"] = forms.ChoiceField(
            label=_("Or the construction it is for"),
            choices=[("", _("Choose a construction")), *offered_formats()],
            required=False,
        )

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        if not self.errors and not said.get("system") and not said.get("format"):
            raise forms.ValidationError(_("Choose a key system, or the construction the key is for."))
        return said
