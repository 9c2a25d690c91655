from django import forms
from django.utils.translation import gettext_lazy

from keyctl.lib.forms import ServiceForm


class TakeForm(ServiceForm):
    why = forms.CharField(
        label=gettext_lazy("What for"),
        max_length=300,
        help_text=gettext_lazy("For instance: before the west wing is keyed anew."),
    )
