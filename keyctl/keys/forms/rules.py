"""The rules of a site's desk, its terms, and deposits."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from keyctl.keys.models import DeskSettings
from keyctl.lib.forms import ServiceForm
from keyctl.lib.language import Text

DEPOSITS = ("change_deposit", "master_deposit", "top_deposit", "control_deposit")
MOST_DAYS = 3650


class MoneyField(forms.DecimalField):
    """Typed with two places, kept in the smallest unit of the currency."""

    def __init__(self, **facts: Any) -> None:
        super().__init__(min_value=0, max_value=Decimal(100_000), decimal_places=2, required=False, **facts)

    def clean(self, value: Any) -> int:
        return int((super().clean(value) or Decimal(0)) * 100)

    def prepare_value(self, value: Any) -> Any:
        return f"{value // 100}.{value % 100:02}" if isinstance(value, int) else value


def _days(label: Text) -> forms.IntegerField:
    return forms.IntegerField(label=label, min_value=1, max_value=MOST_DAYS, required=False)


class DeskRulesForm(ServiceForm):
    version = forms.IntegerField(widget=forms.HiddenInput)
    staff_days = _days(gettext_lazy("Staff keep a key for days"))
    student_days = _days(gettext_lazy("Students keep a key for days"))
    contractor_hours = forms.IntegerField(
        label=gettext_lazy("Contractors keep a key for hours"), min_value=1, max_value=24 * 90, required=False
    )
    other_days = _days(gettext_lazy("Others keep a key for days"))
    change_deposit = MoneyField(label=gettext_lazy("Deposit for a change key"))
    master_deposit = MoneyField(label=gettext_lazy("Deposit for a master key"))
    top_deposit = MoneyField(label=gettext_lazy("Deposit for a top master key"))
    control_deposit = MoneyField(label=gettext_lazy("Deposit for a control key"))
    currency = forms.RegexField(
        r"^[A-Z]{3}$",
        label=gettext_lazy("Currency"),
        max_length=3,
        help_text=gettext_lazy("Three capital letters, as USD."),
    )
    stamping = forms.ChoiceField(
        label=gettext_lazy("What may be stamped on a key"), choices=DeskSettings.Stamping.choices
    )

    def __init__(self, *args: Any, rules: DeskSettings, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial = {name: getattr(rules, name) for name in self.fields}


class TermsForm(ServiceForm):
    text = forms.CharField(
        label=gettext_lazy("What people sign"), max_length=8000, widget=forms.Textarea(attrs={"rows": 12})
    )


class KeepDepositForm(ServiceForm):
    reason = forms.CharField(
        label=gettext_lazy("Why it is kept"), max_length=400, widget=forms.Textarea(attrs={"rows": 3})
    )
