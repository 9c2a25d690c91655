"""Uploading a list, choosing its columns, writing it."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.formats.selectors import offered_formats
from keyctl.inherited.access import workable_sites
from keyctl.inherited.columns import FIELDS, NEEDED, shown_headings
from keyctl.inherited.models import BittingList
from keyctl.inherited.selectors import systems_at
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.listforms import ColumnsForm, TableField, with_content
from keyctl.lib.sheets import Sheet

NONE = ""
CODE = {"class": "code", "autocomplete": "off", "spellcheck": "false"}


class BringForm(ServiceForm):
    file = TableField()

    def __init__(self, *args: Any, actor: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites = workable_sites(actor)
        self.fields["site"] = forms.ModelChoiceField(
            sites, label=_("At which site?"), empty_label=None, initial=sites.first()
        )
        self.fields["system"] = forms.ModelChoiceField(
            systems_at(sites),
            label=_("Into which key system?"),
            empty_label=_("A new one, named below"),
            required=False,
        )
        facts: dict[str, Any] = {"required": False, "widget": forms.TextInput(attrs=CODE)}
        self.fields["code"] = forms.CharField(label=_("Code of the new system"), max_length=20, **facts)
        self.fields["system_name"] = forms.CharField(label=_("Its name"), max_length=120, required=False)
        self.fields["keyway"] = forms.CharField(label=_("Its keyway"), max_length=20, **facts)
        self.fields["format_id"] = forms.ChoiceField(
            label=_("Its core format"),
            choices=[(NONE, _("Choose a format")), *offered_formats()],
            required=False,
        )

    def clean(self) -> dict[str, Any]:
        said = with_content(dict(super().clean() or self.cleaned_data))
        if not said.get("system") and not said.get("format_id") and not self.errors:
            self.add_error("format_id", _("Choose the format of the new system's cores."))
        return said


class BittingColumnsForm(ColumnsForm):
    def __init__(self, *args: Any, seen: BittingList, sheet: Sheet, **kwargs: Any) -> None:
        ticks = {"has_header": _("The first row holds headings")}
        names = shown_headings(sheet, seen.has_header)
        super().__init__(*args, seen=seen, names=names, labels=FIELDS, needed=NEEDED, ticks=ticks, **kwargs)


class WriteForm(VersionForm):
    digest = forms.CharField(max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["digest"].initial = self.seen.digest
        self.fields["despite_warnings"] = forms.BooleanField(
            label=_("I have read the warning") + ("s" if self.seen.warnings > 1 else ""),
            required=False,
            widget=forms.CheckboxInput if self.seen.warnings else forms.HiddenInput,
        )
