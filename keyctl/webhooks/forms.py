"""The forms of webhooks."""

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy

from keyctl.lib.forms import ServiceForm
from keyctl.places.models import Site
from keyctl.webhooks.kinds import CHOICES


class EndpointForm(ServiceForm):
    name = forms.CharField(
        max_length=80,
        label=gettext_lazy("Name"),
        help_text=gettext_lazy("What listens there. History and mail show this name."),
    )
    url = forms.CharField(
        max_length=500,
        label=gettext_lazy("Address"),
        widget=forms.URLInput,
        help_text=gettext_lazy("It begins with https://; its host stands on the list of every site below."),
    )
    sites = forms.ModelMultipleChoiceField(
        Site.objects.none(), label=gettext_lazy("Sites"), widget=forms.CheckboxSelectMultiple
    )
    families = forms.MultipleChoiceField(
        choices=CHOICES, widget=forms.CheckboxSelectMultiple, label=gettext_lazy("It is told of")
    )

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["sites"]
        if isinstance(field, forms.ModelMultipleChoiceField):
            field.queryset = sites


class HostForm(ServiceForm):
    site = forms.ModelChoiceField(Site.objects.none(), label=gettext_lazy("Site"), empty_label=None)
    name = forms.CharField(
        max_length=253,
        label=gettext_lazy("Host"),
        help_text=gettext_lazy("Its name alone, like hooks.example.org."),
    )
    port = forms.IntegerField(label=gettext_lazy("Port"), min_value=1, max_value=65_535, initial=443)
    network = forms.CharField(
        required=False,
        max_length=50,
        label=gettext_lazy("Inside the network"),
        help_text=gettext_lazy(
            "Only where it lies inside the house: the network that it is in, like 10.1.2.0/24."
        ),
    )

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "host_%s")
        super().__init__(*args, **kwargs)
        field = self.fields["site"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = sites
