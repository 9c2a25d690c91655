"""Uploading a list, choosing its columns, writing it."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import User
from keyctl.formats.selectors import offered_formats
from keyctl.inherited.access import workable_sites
from keyctl.inherited.columns import FIELDS, NEEDED, headings_of
from keyctl.inherited.selectors import systems_at
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.sheets import LARGEST_FILE, Sheet

NONE = ""
CODE = {"class": "code", "autocomplete": "off", "spellcheck": "false"}


class BringForm(ServiceForm):
    file = forms.FileField(
        label=gettext_lazy("The list"),
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx"}),
        help_text=gettext_lazy("CSV, or the first sheet of a workbook (.xlsx); 5 MB at most."),
    )

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

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE:
            raise forms.ValidationError(_("The file is larger than 5 MB. Send a part of the list."))
        return file

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        if "file" in said:
            file = said.pop("file")
            said |= {"name": file.name or "list", "content": file.read()}
        if not said.get("system") and not said.get("format_id") and not self.errors:
            self.add_error("format_id", _("Choose the format of the new system's cores."))
        return said


class ColumnsForm(VersionForm):
    def __init__(self, *args: Any, sheet: Sheet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["has_header"] = forms.BooleanField(
            label=_("The first row holds headings"), required=False, initial=self.seen.has_header
        )
        names = headings_of(sheet, self.seen.has_header)
        choices = [(str(column), name) for column, name in enumerate(names)]
        for field, label in FIELDS.items():
            needed = field in NEEDED
            self.fields[field] = forms.ChoiceField(
                label=label,
                choices=[(NONE, _("Choose a column") if needed else _("No column says that")), *choices],
                required=needed,
                initial=str(self.seen.columns.get(field, NONE)),
            )

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        columns = {field: int(said.pop(field)) for field in FIELDS if said.get(field)}
        return {name: said[name] for name in ("version", "has_header") if name in said} | {"columns": columns}


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
