"""What the desk types beside the list. The services decide; forms only read."""

from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.desk.models import DueRules, Tray, TrayLine
from keyctl.desk.services.finishing import Agreed
from keyctl.keys.forms import DayInput, HourInput, moment_of
from keyctl.keys.models import Cabinet
from keyctl.keys.services import Signature
from keyctl.keys.signing import LONGEST_NAME, MOST_SIGNS
from keyctl.lib.forms import ServiceForm
from keyctl.lib.identifiers import read_uuid
from keyctl.places.models import Site

# What a key is like that comes back: the field of a line.
CONDITION = "condition-"


class MoneyField(forms.DecimalField):
    """An amount with two places; read as a number of the smallest unit."""

    def __init__(self, **facts: Any) -> None:
        super().__init__(min_value=Decimal(0), max_digits=9, decimal_places=2, **facts)

    def clean(self, value: Any) -> int | None:
        amount = super().clean(value)
        return None if amount is None else int(amount * 100)


class AgreedForm(ServiceForm):
    """Everything beside the list; the list itself lies on the server."""

    due = forms.ChoiceField(label=gettext_lazy("Back by"), choices=Tray.Due.choices, required=False)
    due_on = forms.DateField(label=gettext_lazy("Day"), required=False, widget=DayInput)
    due_by = forms.TimeField(label=gettext_lazy("Hour"), required=False, widget=HourInput)
    deposit = MoneyField(label=gettext_lazy("Deposit"), required=False)
    cabinet = forms.ModelChoiceField(
        Cabinet.objects.none(), label=gettext_lazy("Into the cabinet"), required=False
    )
    brought_by = forms.CharField(
        label=gettext_lazy("Brought by, if somebody else"), max_length=120, required=False
    )
    signed_as = forms.CharField(
        label=gettext_lazy("Or the name, typed"), max_length=LONGEST_NAME, required=False
    )
    strokes = forms.CharField(required=False, max_length=MOST_SIGNS, widget=forms.HiddenInput)
    version = forms.IntegerField(widget=forms.HiddenInput)
    act_key = forms.UUIDField(widget=forms.HiddenInput)
    terms = forms.UUIDField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *, site: Site, **facts: Any) -> None:
        super().__init__(data, auto_id="desk-%s", **facts)
        self.fields["cabinet"].queryset = Cabinet.objects.filter(site=site)  # type: ignore[attr-defined]
        self.fields["cabinet"].empty_label = _("Choose")  # type: ignore[attr-defined]
        self.fields["deposit"].widget.attrs["placeholder"] = _("As proposed")
        self.fields["signed_as"].widget.attrs |= {"autocomplete": "off", "spellcheck": "false"}

    @property
    def chosen(self) -> dict[str, Any]:
        """What is kept of it on the tray."""
        facts = self.cleaned_data
        due = facts["due"] or Tray.Due.USUAL
        due_at = self._moment() if due == Tray.Due.AT else None
        kept = {name: facts[name] for name in ("deposit", "cabinet", "brought_by")}
        return {"due": due, "due_at": due_at, **kept}

    @property
    def agreed(self) -> Agreed:
        name, strokes = self.cleaned_data["signed_as"], self.cleaned_data["strokes"]
        signature = Signature(name, strokes) if name or strokes else None
        terms: UUID | None = self.cleaned_data["terms"]
        return Agreed(signature=signature, terms=terms, conditions=self._conditions(), **self.chosen)

    def _conditions(self) -> dict[UUID, str]:
        """Fields of the list, one for each key; a value that no list offers counts as not sent."""
        sent = ((name.removeprefix(CONDITION), self.data[name]) for name in self.data if CONDITION in name)
        return {
            line: condition
            for text, condition in sent
            if (line := read_uuid(text)) and condition in TrayLine.Condition.values
        }

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or self.cleaned_data
        if facts.get("due") == Tray.Due.AT and not self._moment():
            self.add_error("due_on", _("Name the day, or choose another time."))
        return facts

    def _moment(self) -> datetime | None:
        day: date | None = self.cleaned_data.get("due_on")
        hour: time | None = self.cleaned_data.get("due_by")
        return moment_of(day, hour)


class PauseForm(ServiceForm):
    until = forms.DateField(label=gettext_lazy("No reminders until"), widget=DayInput)
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=200)


class DueRulesForm(ServiceForm):
    is_on = forms.BooleanField(required=False)
    lead_days = forms.IntegerField(min_value=0, max_value=60)
    repeat_days = forms.IntegerField(min_value=1, max_value=90)
    tell_desk_after = forms.IntegerField(min_value=1, max_value=20)
    stop_after = forms.IntegerField(min_value=1, max_value=20)

    def __init__(self, data: Any = None, **facts: Any) -> None:
        super().__init__(data, **facts)
        for name, field in self.fields.items():
            field.label = str(DueRules._meta.get_field(name).verbose_name)  # type: ignore[union-attr]
        self.fields["stop_after"].help_text = _("Reminders of an overdue key; then only the desk knows.")
        self.fields["tell_desk_after"].help_text = _(
            "So many reminders, and the people of the desk are mailed."
        )
