"""What a person says of a list: the name of a view, with whom it is shared, which rows an act is about."""

from typing import Any
from uuid import UUID

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy

from keyctl.lib.forms import ServiceForm
from keyctl.listing.models import SavedView
from keyctl.places.models import Site

TICKED, PAGE, MATCHING = "ticked", "page", "all"


class ViewForm(ServiceForm):
    name = forms.CharField(
        max_length=60,
        label=gettext_lazy("Name of the view"),
        help_text=gettext_lazy("The name of a view you keep already replaces that one."),
    )
    shared_with = forms.ModelChoiceField(
        Site.objects.none(),
        required=False,
        label=gettext_lazy("Share it with the staff of"),
        empty_label=gettext_lazy("Nobody: it is mine"),
        help_text=gettext_lazy(
            "Everybody who reads this list at the site may open it, and sees what their own roles show them."
        ),
    )

    def __init__(
        self, *args: Any, sites: QuerySet[Site], view: SavedView | None = None, **kwargs: Any
    ) -> None:
        if view:
            kwargs["initial"] = {"name": view.name, "shared_with": view.shared_with_id}
        super().__init__(*args, **kwargs)
        field = self.fields["shared_with"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        field.queryset = sites
        if view:
            self.fields["name"].help_text = ""


class AnyChoices(forms.TypedMultipleChoiceField):
    """Identifiers: which of them there are for this person, the list itself says."""

    def valid_value(self, value: Any) -> bool:  # noqa: ARG002 (the rows say it)
        return True


class RowsForm(forms.Form):
    """Which rows: those ticked, those of the page, or all that match."""

    which = forms.ChoiceField(choices=[(word, word) for word in (TICKED, PAGE, MATCHING)])
    rows = AnyChoices(required=False, coerce=UUID)
    page_rows = AnyChoices(required=False, coerce=UUID)

    def chosen(self) -> list[UUID] | None:
        """None stands for all that match; what is no identifier chooses nothing."""
        if not self.is_valid():
            return []
        if self.cleaned_data["which"] == MATCHING:
            return None
        return list(self.cleaned_data["page_rows" if self.cleaned_data["which"] == PAGE else "rows"])
