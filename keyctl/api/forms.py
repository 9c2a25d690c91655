"""The form of a new token."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone

from keyctl.api.models import Scope
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site


def in_a_year() -> date:
    return timezone.localdate() + timedelta(days=365)


class TokenForm(ServiceForm):
    name = forms.CharField(max_length=60, help_text="What will use it. History shows this name.")
    sites = forms.ModelMultipleChoiceField(Site.objects.none(), widget=forms.CheckboxSelectMultiple)
    scopes = forms.MultipleChoiceField(
        choices=Scope.choices, widget=forms.CheckboxSelectMultiple, label="What it may do"
    )
    expires_on = forms.DateField(
        initial=in_a_year,
        label="Last day",
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        help_text="It stops working after this day. Make a new one before.",
    )

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["sites"]
        if isinstance(field, forms.ModelMultipleChoiceField):
            field.queryset = sites
