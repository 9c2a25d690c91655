"""Asking, deciding, and the limits of a site."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.reveals.models import (
    MOST_ALONE_A_DAY,
    MOST_ALONE_AN_HOUR,
    MOST_AT_WORK_A_DAY,
    MOST_AT_WORK_AN_HOUR,
    MOST_MORE,
)
from keyctl.reveals.services.deciding import LASTS

NO_BITTING = gettext_lazy("It is read by officers and auditors. Write no bitting here.")
WORDS = {30: gettext_lazy("Half an hour"), 120: gettext_lazy("Two hours"), 480: gettext_lazy("Eight hours")}


class AskForm(ServiceForm):
    reason = forms.CharField(
        label=gettext_lazy("Why do you need it?"),
        max_length=300,
        help_text=NO_BITTING,
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "off"}),
    )


class AskForMoreForm(AskForm):
    count = forms.IntegerField(
        label=gettext_lazy("How many more?"),
        min_value=1,
        max_value=MOST_MORE,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    field_order = ("count", "reason")


class GrantForm(ServiceForm):
    minutes = forms.TypedChoiceField(
        label=gettext_lazy("For how long?"),
        coerce=int,
        choices=[(minutes, WORDS[minutes]) for minutes in LASTS],
        widget=forms.RadioSelect,
        initial=30,
    )
    decision = forms.CharField(
        label=gettext_lazy("Why may they?"),
        max_length=300,
        help_text=NO_BITTING,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class DeclineForm(ServiceForm):
    decision = forms.CharField(
        label=gettext_lazy("Why not?"),
        max_length=300,
        help_text=NO_BITTING,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class LimitsForm(VersionForm):
    def __init__(self, *args: Any, seen: Any, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        for name, label, most in (
            ("alone_an_hour", _("By permission alone, an hour"), MOST_ALONE_AN_HOUR),
            ("alone_a_day", _("By permission alone, a day"), MOST_ALONE_A_DAY),
            ("at_work_an_hour", _("For work of theirs, an hour"), MOST_AT_WORK_AN_HOUR),
            ("at_work_a_day", _("For work of theirs, a day"), MOST_AT_WORK_A_DAY),
        ):
            self.fields[name] = forms.IntegerField(
                label=label,
                min_value=1,
                max_value=most,
                initial=getattr(seen, name),
                help_text=_("At most {most}.").format(most=most),
                widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
            )
