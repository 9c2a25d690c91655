"""Asking for a list of a whole system."""

from typing import Any

from django import forms
from django.db.models import QuerySet

from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site
from keyctl.prints.models import Export


class ExportForm(ServiceForm):
    site = forms.ModelChoiceField(Site.objects.none(), empty_label=None)
    form = forms.ChoiceField(label="As", choices=Export.Form.choices, widget=forms.RadioSelect, initial="pdf")
    reason = forms.CharField(
        label="Why do you need it?",
        max_length=200,
        help_text="It stands on the list, in the register and in history. Write no bitting here.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, sites: "QuerySet[Site]", kind: Export.Kind, **kwargs: Any) -> None:
        # Two of them stand on one page.
        kwargs["auto_id"] = f"{kind.value}-%s"
        super().__init__(*args, **kwargs)
        self.kind = kind
        field = self.fields["site"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        field.queryset = sites
