"""Beginning a chart, adding to it, its rules, solving it, making a system of it."""

from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from keyctl.accounts.models import User
from keyctl.charts.access import workable_sites
from keyctl.charts.models import LockChart
from keyctl.formats.selectors import offered_formats
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.listforms import TableField

CODE = {"class": "code", "autocomplete": "off", "spellcheck": "false"}
RULES = {
    "max_cuts": (gettext_lazy("Operating cuts in a position of one core, at most"), 2, 16),
    "min_differences": (
        gettext_lazy("Positions in which a key that stays out misses a core, at least"),
        1,
        16,
    ),
    "macs": (gettext_lazy("Difference of adjacent cuts, at most"), 1, 99),
    "max_equal": (gettext_lazy("How often one depth may occur in a key"), 1, 16),
    "min_distinct": (gettext_lazy("Different depths in a key, at least"), 1, 16),
}


def chart_table(**facts: Any) -> TableField:
    too_large = gettext("The file is larger than 5 MB. Send a part of the chart.")
    return TableField(label=gettext("A table"), too_large=too_large, **facts)


def with_table(said: dict[str, Any]) -> dict[str, Any]:
    file = said.pop("file", None)
    return said | ({"content": file.read()} if file else {})


class BeginForm(ServiceForm):
    def __init__(self, *args: Any, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites = workable_sites(actor)
        self.fields["name"] = forms.CharField(label=gettext("Name of the chart"), max_length=120)
        self.fields["site"] = forms.ModelChoiceField(
            sites, label=gettext("At which site?"), empty_label=None, initial=sites.first()
        )
        self.fields["format_id"] = forms.ChoiceField(label=gettext("Core format"), choices=offered_formats())
        self.fields["keyway"] = forms.CharField(
            label=gettext("Keyway"), max_length=20, widget=forms.TextInput(attrs=CODE)
        )
        self.fields["file"] = chart_table(required=False)

    def clean(self) -> dict[str, Any]:
        return with_table(dict(super().clean() or self.cleaned_data))


class TableForm(VersionForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"] = chart_table()

    def clean(self) -> dict[str, Any]:
        return with_table(dict(super().clean() or self.cleaned_data))


class AddForm(VersionForm):
    keys = forms.CharField(
        label=gettext_lazy("Keys, one in a line"),
        required=False,
        max_length=200_000,
        widget=forms.Textarea(attrs=CODE | {"rows": 6}),
        help_text=gettext_lazy(
            "A key in use keeps its bitting: write it after the name and a colon. It is sealed."
        ),
    )
    locks = forms.CharField(
        label=gettext_lazy("Locks, one in a line"),
        required=False,
        max_length=200_000,
        widget=forms.Textarea(attrs={"rows": 6}),
    )

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        if "keys" in said:
            parted = [line.partition(":") for line in said["keys"].splitlines() if line.strip()]
            said["keys"] = [(name.strip(), bitting.strip()) for name, _, bitting in parted]
        if "locks" in said:
            said["locks"] = [line.strip() for line in said["locks"].splitlines() if line.strip()]
        return said


class RulesForm(VersionForm):
    def __init__(self, *args: Any, seen: LockChart, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        for name, (label, low, high) in RULES.items():
            self.fields[name] = forms.IntegerField(
                label=label, min_value=low, max_value=high, required=False, initial=seen.rules.get(name)
            )

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        rules = {name: said.pop(name) for name in RULES if said.get(name) is not None}
        return {name: said[name] for name in ("version",) if name in said} | {"rules": rules}


class SolveForm(VersionForm):
    minutes = forms.IntegerField(
        label=gettext_lazy("Minutes to search, at most"), min_value=1, max_value=120, initial=5
    )


class MakeForm(VersionForm):
    code = forms.CharField(
        label=gettext_lazy("Code of the key system"), max_length=20, widget=forms.TextInput(attrs=CODE)
    )
    name = forms.CharField(label=gettext_lazy("Its name"), max_length=120)
