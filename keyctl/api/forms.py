"""The form of a new token."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.api.models import Scope
from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site


def in_a_year() -> date:
    return timezone.localdate() + timedelta(days=365)


class TokenForm(ServiceForm):
    name = forms.CharField(
        max_length=60,
        label=gettext_lazy("Name"),
        help_text=gettext_lazy("What will use it. History shows this name."),
    )
    sites = forms.ModelMultipleChoiceField(
        Site.objects.none(), label=gettext_lazy("Sites"), widget=forms.CheckboxSelectMultiple
    )
    scopes = forms.MultipleChoiceField(
        choices=Scope.choices, widget=forms.CheckboxSelectMultiple, label=gettext_lazy("What it may do")
    )
    networks = forms.CharField(
        required=False,
        max_length=600,
        label=gettext_lazy("Only from these networks"),
        help_text=gettext_lazy(
            "Like 192.0.2.0/24 or 2001:db8::/32, parted by blanks. From anywhere if there are none."
        ),
    )
    expires_on = forms.DateField(
        initial=in_a_year,
        label=gettext_lazy("Last day"),
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        help_text=gettext_lazy("It stops working after this day. Make a new one before."),
    )

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["sites"]
        if isinstance(field, forms.ModelMultipleChoiceField):
            field.queryset = sites


class WindowForm(ServiceForm):
    minutes = forms.TypedChoiceField(
        coerce=int,
        choices=[
            (30, gettext_lazy("Half an hour")),
            (120, gettext_lazy("Two hours")),
            (480, gettext_lazy("Eight hours")),
        ],
        label=gettext_lazy("For how long"),
    )
    reason = forms.CharField(
        max_length=300,
        label=gettext_lazy("What for"),
        help_text=gettext_lazy("It stays in history, with your name beside it."),
    )
