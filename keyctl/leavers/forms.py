"""What is typed about people who go. The services decide."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.keys.models import Holder
from keyctl.leavers.models import LeaverRules
from keyctl.lib.forms import ServiceForm, VersionForm

DAY = {"type": "date"}


class PauseForm(VersionForm):
    until = forms.DateField(
        label=gettext_lazy("Through"), widget=forms.DateInput(format="%Y-%m-%d", attrs=DAY)
    )
    reason = forms.CharField(
        label=gettext_lazy("Why"), max_length=200, help_text=gettext_lazy("Ill, on leave, a day is agreed.")
    )


class CloseForm(VersionForm):
    reason = forms.CharField(
        label=gettext_lazy("Why it is closed while keys are out"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy(
            "What was tried, and why the risk is borne. A key that is gone is reported lost instead."
        ),
    )


class AnnounceForm(ServiceForm):
    leaves_on = forms.DateField(
        label=gettext_lazy("Last day"), widget=forms.DateInput(format="%Y-%m-%d", attrs=DAY), required=False
    )
    has_left = forms.BooleanField(label=gettext_lazy("They have left already"), required=False)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=400, required=False)

    def __init__(self, *args: Any, holder: Holder, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.holder = holder

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        if not self.errors and bool(facts.get("leaves_on")) == facts["has_left"]:
            raise forms.ValidationError(
                _("Give the last day, or say that they have left already: one of the two.")
            )
        facts.pop("has_left", None)
        return facts


class RulesForm(ServiceForm):
    lead_days = forms.IntegerField(
        label=gettext_lazy("First reminder, days before the last day"), min_value=0, max_value=90
    )
    repeat_days = forms.IntegerField(
        label=gettext_lazy("Days from one reminder to the next"), min_value=1, max_value=90
    )
    escalate_after = forms.IntegerField(
        label=gettext_lazy("Tell the managers after so many reminders"), min_value=1, max_value=20
    )
    stop_after = forms.IntegerField(
        label=gettext_lazy("Stop after so many reminders"), min_value=1, max_value=20
    )

    def __init__(self, *args: Any, rules: LeaverRules, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            field.initial = getattr(rules, name)
