"""What the desk types. The services decide; forms only read."""

from datetime import date, datetime, time
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from keyctl.keys.models import Cabinet, Holder, KeyCopy
from keyctl.keys.services import MOST_AT_ONCE
from keyctl.lib.forms import ServiceForm
from keyctl.lib.moments import end_of_day
from keyctl.places.models import Site
from keyctl.systems.models import KeySymbol, KeySystem

MOST_NAMED = 5

# Each is written into history after "looked at the cuts of …".
REASONS = [
    ("", "Choose a reason"),
    ("to cut a copy", "To cut a copy"),
    ("to check a cut key with calipers", "To check a cut key with calipers"),
    ("a copy turns badly or is worn", "A copy turns badly or is worn"),
    ("after a key was lost", "After a key was lost"),
]


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class HourInput(forms.TimeInput):
    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


def moment_of(day: date | None, hour: time | None) -> datetime | None:
    if hour:
        return timezone.make_aware(datetime.combine(day or timezone.localdate(), hour))
    return end_of_day(day) if day else None


class HolderField(forms.CharField):
    """A holder of the site by name or e-mail address; the form sets ``site``.

    A part of the name will do too where the person may see who the holders are.
    """

    site: Site
    takes_a_part = True

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        return self._holder(text) if text else None

    def _holder(self, text: str) -> Holder:
        at_site = Holder.objects.filter(site=self.site).select_related("site")
        exact = list(at_site.filter(email__iexact=text) | at_site.filter(name__iexact=text))
        likely = at_site.filter(name__icontains=text, is_active=True)[: MOST_NAMED + 1]
        found = exact or (list(likely) if self.takes_a_part else [])
        if len(found) == 1:
            return found[0]
        raise ValidationError(self._not_one(text, found))

    def _not_one(self, text: str, found: list[Holder]) -> str:
        if not found:
            return f"Nobody at {self.site} is called “{text}”. Register the person first."
        names = ", ".join(
            f"{each} ({each.email})" if each.email else str(each) for each in found[:MOST_NAMED]
        )
        return f"Several holders answer to “{text}”: {names}. Type the whole name or the e-mail address."


class CopyForm(ServiceForm):
    """Every act on a copy carries the version of the copy that the page showed."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, copy: KeyCopy, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["version"].initial = copy.version


class HandOutForm(CopyForm):
    holder = HolderField(
        label="Who takes it", max_length=120, help_text="The name or e-mail address as registered."
    )
    due_on = forms.DateField(
        label="Back by",
        required=False,
        widget=DayInput(),
        help_text="Empty: as long as people of this kind usually keep a key here.",
    )
    due_hour = forms.TimeField(
        label="At", required=False, widget=HourInput(), help_text="For a loan by the hour."
    )
    signed_as = forms.CharField(
        label="Signature", max_length=120, help_text="The person who takes the key types their own name."
    )

    def __init__(self, *args: Any, copy: KeyCopy, **kwargs: Any) -> None:
        super().__init__(*args, copy=copy, **kwargs)
        holder = self.fields["holder"]
        assert isinstance(holder, HolderField)  # noqa: S101 (tells the type checker)
        holder.site = copy.site

    def clean(self) -> dict[str, Any]:
        """Day and hour are one moment; an hour alone is of today, a day alone lasts until it ends."""
        facts = dict(super().clean() or self.cleaned_data)
        day, hour = facts.pop("due_on", None), facts.pop("due_hour", None)
        facts["due_at"] = moment_of(day, hour)
        return facts


class TakeBackForm(CopyForm):
    cabinet = forms.ModelChoiceField(Cabinet.objects.none(), label="Into the cabinet", empty_label=None)

    def __init__(self, *args: Any, copy: KeyCopy, **kwargs: Any) -> None:
        super().__init__(*args, copy=copy, **kwargs)
        _offer(self, "cabinet", Cabinet.objects.filter(site=copy.site).select_related("site"))


class LostForm(CopyForm):
    note = forms.CharField(
        label="What happened",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Where and when it was last seen, and who said so.",
    )


class DestroyForm(CopyForm):
    reason = forms.CharField(label="How and why", max_length=400, widget=forms.Textarea(attrs={"rows": 3}))


class RevealForm(ServiceForm):
    reason = forms.ChoiceField(label="Why do you need to see its cuts?", choices=REASONS)


class CutForm(ServiceForm):
    system = forms.ModelChoiceField(KeySystem.objects.none(), label="Key system", empty_label=None)
    name = forms.CharField(label="Key symbol", max_length=20, widget=forms.TextInput(attrs={"class": "code"}))
    cabinet = forms.ModelChoiceField(Cabinet.objects.none(), label="Into the cabinet", empty_label=None)
    count = forms.IntegerField(label="How many", min_value=1, max_value=MOST_AT_ONCE, initial=1)

    def __init__(self, *args: Any, site: Site, symbol: KeySymbol | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if symbol:
            self.initial = {"system": symbol.system, "name": symbol.symbol}
        _offer(self, "system", site.key_systems.all())
        _offer(self, "cabinet", site.cabinets.select_related("site"))

    def clean(self) -> dict[str, Any]:
        """The system and the symbol's name together say which key; the service takes only the key."""
        facts = dict(super().clean() or self.cleaned_data)
        system, name = facts.pop("system", None), facts.pop("name", "")
        if system and name:
            facts["symbol"] = self._symbol(system, name)
        return facts

    def _symbol(self, system: KeySystem, name: str) -> KeySymbol | None:
        found = KeySymbol.objects.select_related("system").filter(system=system, symbol__iexact=name).first()
        if found is None:
            self.add_error("name", f"{system} has no key called {name}.")
        return found


class HolderForm(ServiceForm):
    name = forms.CharField(label="Name", max_length=120)
    email = forms.EmailField(
        label="E-mail", required=False, help_text="Tells two people of the same name apart."
    )


def _offer(form: forms.Form, name: str, rows: Any) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
    field.queryset = rows
