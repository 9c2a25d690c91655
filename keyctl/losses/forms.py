"""What is typed into a loss. The services decide."""

import json
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.keys.forms.rules import MoneyField
from keyctl.keys.models import Holder
from keyctl.lib.forms import ServiceForm, VersionForm
from keyctl.lib.language import Text
from keyctl.losses.models import CaseDoor, CaseNote, LossCase, LossReport, LostCopy, WorkRates
from keyctl.places.models import Building, Door

FACTS: dict[str, tuple[Text, int, Text]] = {
    "where": (gettext_lazy("Where it was lost"), 200, gettext_lazy("As far as it is known. No cuts.")),
    "last_seen": (
        gettext_lazy("When it was last seen"),
        120,
        gettext_lazy("A day and a time, or what was done then."),
    ),
    "police_number": (gettext_lazy("Number of the report to the police"), 60, ""),
}


class OutcomeForm(VersionForm):
    outcome = forms.CharField(
        label=gettext_lazy("How it ended"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Others read it: no cuts."),
    )


class CloseForm(OutcomeForm):
    without_proof = forms.BooleanField(
        label=gettext_lazy(
            "There is no proof, and I answer for closing without one. My reason stands above."
        ),
        required=False,
    )


class CancelForm(OutcomeForm):
    pass


class ReopenForm(VersionForm):
    note = forms.CharField(label=gettext_lazy("Why it is taken up again"), max_length=400)


class JoinForm(VersionForm):
    other = forms.ModelChoiceField(LossCase.objects.none(), label=gettext_lazy("Take in the copies of"))

    def __init__(self, *args: Any, seen: LossCase, **kwargs: Any) -> None:
        super().__init__(*args, seen=seen, **kwargs)
        field = self.fields["other"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        others = LossCase.objects.filter(site=seen.site_id, state=LossCase.State.OPEN)
        field.queryset = others.exclude(pk=seen.pk).with_names()


class NoteForm(ServiceForm):
    kind = forms.ChoiceField(
        label=gettext_lazy("What it is"),
        choices=[
            (CaseNote.Kind.NOTE, gettext_lazy("A note")),
            (CaseNote.Kind.TOLD, gettext_lazy("Somebody was told")),
        ],
        widget=forms.RadioSelect,
        initial=CaseNote.Kind.NOTE,
    )
    text = forms.CharField(
        label=gettext_lazy("Words"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=gettext_lazy(
            "Who was told, how, and what they said; or what else is worth keeping. No cuts."
        ),
    )


class CallForm(ServiceForm):
    holder = forms.ModelChoiceField(Holder.objects.none(), label=gettext_lazy("Holder"))
    text = forms.CharField(label=gettext_lazy("What was agreed"), max_length=400, required=False)

    def __init__(self, *args: Any, holders: QuerySet[Holder], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["holder"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
        field.queryset = holders


def _facts_field(name: str) -> forms.CharField:
    label, longest, hint = FACTS[name]
    return forms.CharField(label=label, max_length=longest, required=False, help_text=hint)


class FactsForm(ServiceForm):
    where = _facts_field("where")
    last_seen = _facts_field("last_seen")
    police_number = _facts_field("police_number")

    def __init__(self, *args: Any, lost: LostCopy, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {name: getattr(lost, name) for name in FACTS})
        super().__init__(*args, **kwargs)


class OwnLossForm(ServiceForm):
    note = forms.CharField(
        label=gettext_lazy("What happened"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("No cuts."),
    )
    where = _facts_field("where")
    last_seen = _facts_field("last_seen")
    told = forms.CharField(
        label=gettext_lazy("Whom you have told"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("For instance the porter."),
    )
    police_number = _facts_field("police_number")


class ConfirmForm(ServiceForm):
    answer = forms.CharField(label=gettext_lazy("Answer to the holder"), max_length=400, required=False)


class RefuseForm(ServiceForm):
    answer = forms.CharField(
        label=gettext_lazy("What became of the key"),
        max_length=400,
        help_text=gettext_lazy("The holder reads it: it was found, say."),
    )


class RuleForm(ServiceForm):
    """A share for each door class, and the shares that the page showed."""

    seen = forms.CharField(max_length=400, widget=forms.HiddenInput)

    def __init__(self, *args: Any, shares: Mapping[str, int], **kwargs: Any) -> None:
        kwargs["initial"] = {name: Decimal(share) / 10 for name, share in shares.items()}
        kwargs["initial"]["seen"] = json.dumps(dict(shares))
        super().__init__(*args, **kwargs)
        for door_class in Door.DoorClass:
            self.fields[door_class.value] = forms.DecimalField(
                label=_("{label} doors: share of copies lost, in percent").format(label=door_class.label),
                min_value=Decimal(0),
                max_value=Decimal(100),
                decimal_places=1,
                max_digits=4,
                help_text=_("0 says that one lost copy suffices."),
            )

    def clean_seen(self) -> dict[str, int]:
        try:
            return {str(name): int(share) for name, share in json.loads(self.cleaned_data["seen"]).items()}
        except (ValueError, AttributeError, TypeError, OverflowError, RecursionError):
            raise ValidationError(_("Open the page anew.")) from None

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        shares = {name: int(facts.pop(name) * 10) for name in Door.DoorClass.values if name in facts}
        return {"shares": shares, "seen": facts.get("seen", {})}


DUE = [
    ("", gettext_lazy("Due or not")),
    ("yes", gettext_lazy("Due for a rekey")),
    ("no", gettext_lazy("Not due")),
]
NOWHERE = "none"


class DoorFilter(forms.Form):
    """What a page of doors is narrowed to; what nobody can mean is ignored."""

    building = forms.ChoiceField(label=gettext_lazy("Building"), required=False)
    door_class = forms.ChoiceField(
        label=gettext_lazy("Door class"),
        required=False,
        choices=[("", gettext_lazy("All classes")), *Door.DoorClass.choices],
    )
    route = forms.ChoiceField(
        label=gettext_lazy("Route"),
        required=False,
        choices=[("", gettext_lazy("All routes")), *CaseDoor.Route.choices],
    )
    due = forms.ChoiceField(label=gettext_lazy("Due"), required=False, choices=DUE)
    state = forms.ChoiceField(
        label=gettext_lazy("State"),
        required=False,
        choices=[("", gettext_lazy("All states")), *CaseDoor.State.choices],
    )

    def __init__(self, *args: Any, buildings: list[Building], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["building"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 (tells the type checker)
        named = [(str(building.pk), f"{building.code} {building}") for building in buildings]
        field.choices = [("", _("All buildings")), *named, (NOWHERE, _("In no door"))]

    def chosen(self) -> dict[str, str]:
        self.is_valid()
        return {name: word for name in self.fields if (word := self.cleaned_data.get(name, ""))}


def waiting_words(report: LossReport) -> list[tuple[str, str]]:
    """What the holder told, by what it is, without what was left empty."""
    named = [
        (_("What happened"), report.note),
        *((FACTS[name][0], getattr(report, name)) for name in FACTS),
        (_("Whom they told"), report.told),
    ]
    return [(str(label), text) for label, text in named if text]


class RatesForm(ServiceForm):
    """Minutes, and money as it is typed: with two places."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    minutes_per_core = forms.IntegerField(
        label=gettext_lazy("Minutes for one core"), min_value=0, max_value=480
    )
    minutes_per_visit = forms.IntegerField(
        label=gettext_lazy("Minutes for one visit"),
        min_value=0,
        max_value=1440,
        help_text=gettext_lazy("The way there and back."),
    )
    cores_per_visit = forms.IntegerField(
        label=gettext_lazy("Cores done on one visit"), min_value=1, max_value=500
    )
    minutes_per_key = forms.IntegerField(
        label=gettext_lazy("Minutes to cut one key"), min_value=0, max_value=120
    )
    money_per_hour = MoneyField(label=gettext_lazy("One hour of work"))
    money_per_blank = MoneyField(label=gettext_lazy("One blank"))
    money_per_pin = MoneyField(label=gettext_lazy("One pin"))
    currency = forms.RegexField(
        regex="^[A-Z]{3}$",
        label=gettext_lazy("Currency"),
        help_text=gettext_lazy("Three capital letters, as EUR."),
    )

    def __init__(self, *args: Any, seen: WorkRates, **kwargs: Any) -> None:
        initial = {name: getattr(seen, name) for name in self.base_fields}
        initial["version"] = 0 if seen._state.adding else seen.version
        kwargs["initial"] = initial
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.required = True
