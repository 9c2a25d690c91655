"""Bringing a file in, choosing its columns, taking it."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.imports.access import taking_sites
from keyctl.imports.columns import shown_headings
from keyctl.imports.kinds import Kind
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.limits import LARGEST_BODY
from keyctl.lib.listforms import ColumnsForm, with_content
from keyctl.lib.numbers import as_number
from keyctl.lib.sheets import Sheet

LARGEST_UPLOAD = LARGEST_BODY - 500_000


class BringForm(ServiceForm):
    def __init__(self, *args: Any, actor: User, kind: Kind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sites = taking_sites(actor, kind)
        self.fields["site"] = forms.ModelChoiceField(
            sites, label=_("At which site?"), empty_label=None, initial=sites.first()
        )
        self.fields["file"] = forms.FileField(
            label=_("The file"),
            widget=forms.FileInput(attrs={"accept": kind.accept}),
            help_text=_(
                "{kinds_of_file}; {number} MB at most. A larger one comes in by the command on the server."
            ).format(
                kinds_of_file=_kinds_of_file(kind),
                number=as_number(round(Decimal(LARGEST_UPLOAD) / 1_000_000, 1)),
            ),
        )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LARGEST_UPLOAD:
            raise forms.ValidationError(
                _("The file is too large for a page. Use the command, or send parts.")
            )
        return file

    def clean(self) -> dict[str, Any]:
        return with_content(dict(super().clean() or self.cleaned_data))


class FileColumnsForm(ColumnsForm):
    def __init__(self, *args: Any, kind: Kind, sheet: Sheet, **kwargs: Any) -> None:
        labels = {field.name: field.label for field in kind.fields}
        needed = {field.name for field in kind.needed}
        super().__init__(*args, names=shown_headings(sheet), labels=labels, needed=needed, **kwargs)


class TakeForm(VersionForm):
    digest = forms.CharField(max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        errors = self.seen.errors
        self.fields["digest"].initial = self.seen.digest
        self.fields["without_errors"] = forms.BooleanField(
            label=_("Leave out what has errors ({errors})").format(errors=errors),
            required=False,
            widget=forms.CheckboxInput if errors else forms.HiddenInput,
        )


def _kinds_of_file(kind: Kind) -> str:
    words = {
        ".csv": "CSV",
        ".xlsx": _("a workbook (.xlsx)") if kind.fields else _("a COBie workbook (.xlsx)"),
        ".ifc": _("an IFC model (.ifc)"),
    }
    return _(" or ").join(words.get(part, part) for part in kind.accept.split(","))
