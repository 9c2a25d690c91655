"""Forms for a table that somebody sends: the file, and which of its columns says what."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.forms import VersionForm
from keyctl.lib.language import Text
from keyctl.lib.sheets import LARGEST_FILE

NO_COLUMN = ""
LIST = gettext_lazy("The list")
TOO_LARGE = gettext_lazy("The file is larger than 5 MB. Send a part of the list.")


class TableField(forms.FileField):
    def __init__(self, *, label: Text = LIST, too_large: Text = TOO_LARGE, **facts: Any) -> None:
        self.too_large = too_large
        super().__init__(
            label=label,
            widget=forms.FileInput(attrs={"accept": ".csv,.xlsx"}),
            help_text=gettext_lazy("CSV, or the first sheet of a workbook (.xlsx); 5 MB at most."),
            **facts,
        )

    def clean(self, data: Any, initial: Any = None) -> Any:
        file = super().clean(data, initial)
        if file and file.size > LARGEST_FILE:
            raise forms.ValidationError(self.too_large)
        return file


def with_content(said: dict[str, Any]) -> dict[str, Any]:
    """What was said, with the file's name and content in the place of the file."""
    file = said.pop("file", None)
    return said | ({"name": file.name or "file", "content": file.read()} if file else {})


class ColumnsForm(VersionForm):
    """A choice for each field, and what is ticked of the whole table; what was chosen last is there."""

    def __init__(
        self,
        *args: Any,
        names: Sequence[str],
        labels: Mapping[str, Text],
        needed: Collection[str] = (),
        ticks: Mapping[str, Text] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.labels, self.ticks = labels, ticks or {}
        for field, label in self.ticks.items():
            seen = getattr(self.seen, field)
            self.fields[field] = forms.BooleanField(label=label, required=False, initial=seen)
        choices = [(str(column), name) for column, name in enumerate(names)]
        for field, label in labels.items():
            nothing = _("Choose a column") if field in needed else _("No column says that")
            self.fields[field] = forms.ChoiceField(
                label=label,
                choices=[(NO_COLUMN, nothing), *choices],
                required=field in needed,
                initial=str(self.seen.columns.get(field, NO_COLUMN)),
            )

    def clean(self) -> dict[str, Any]:
        said = dict(super().clean() or self.cleaned_data)
        columns = {field: int(said.pop(field)) for field in self.labels if said.get(field)}
        kept = {name: said[name] for name in ("version", *self.ticks) if name in said}
        return kept | {"columns": columns}
