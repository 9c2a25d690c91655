from django import forms
from django.utils.translation import gettext_lazy

from keyctl.interim.models import Interim
from keyctl.lib.forms import ServiceForm


def day_field() -> forms.DateField:
    return forms.DateField(
        label=gettext_lazy("It must leave by"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


class MarkForm(ServiceForm):
    until = day_field()
    why = forms.CharField(
        max_length=200,
        label=gettext_lazy("What is it there for?"),
        help_text=gettext_lazy("The building work, or whose core it is."),
    )


class ChangeForm(MarkForm):
    version = forms.IntegerField(widget=forms.HiddenInput)

    @classmethod
    def of(cls, interim: Interim) -> "ChangeForm":
        return cls(initial={"until": interim.until, "why": interim.why, "version": interim.version})


class StayForm(ServiceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)
    outcome = forms.CharField(max_length=200, label=gettext_lazy("Why may it stay for good?"))
