"""Fields and parts that several forms of the desk share."""

from datetime import date, datetime, time
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

from keyctl.keys.models import Holder
from keyctl.lib.forms import ServiceForm
from keyctl.lib.moments import end_of_day, moment_on
from keyctl.places.models import Site

MOST_NAMED = 5


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
        return moment_on(day or timezone.localdate(), hour)
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
            return _("Nobody at {site} is called “{text}”. Register the person first.").format(
                site=self.site, text=text
            )
        if not self.takes_a_part:
            # Whoever may not see who the holders are does not read addresses here.
            return _("Several holders are called “{text}”. Type the e-mail address.").format(text=text)
        names = ", ".join(
            f"{each} ({each.email})" if each.email else str(each) for each in found[:MOST_NAMED]
        )
        return _(
            "Several holders answer to “{text}”: {names}. Type the whole name or the e-mail address."
        ).format(text=text, names=names)


class DueForm(ServiceForm):
    """Day and hour are one moment; an hour alone is of today, a day alone lasts until it ends."""

    due_on = forms.DateField(
        label=gettext_lazy("Back by"),
        required=False,
        widget=DayInput(),
        help_text=gettext_lazy("Empty: as long as people of this kind usually keep a key here."),
    )
    due_hour = forms.TimeField(
        label=pgettext_lazy("an hour", "At"),
        required=False,
        widget=HourInput(),
        help_text=gettext_lazy("For a loan by the hour."),
    )

    def clean(self) -> dict[str, Any]:
        facts = dict(super().clean() or self.cleaned_data)
        day, hour = facts.pop("due_on", None), facts.pop("due_hour", None)
        facts["due_at"] = moment_of(day, hour)
        return facts


def offer(form: forms.Form, name: str, rows: Any) -> None:
    """The rows that a choice is made from."""
    field = form.fields[name]
    assert isinstance(field, forms.ModelChoiceField)  # noqa: S101 (tells the type checker)
    field.queryset = rows


def at_site(form: forms.Form, name: str, site: Site) -> None:
    """A holder is looked for at this site."""
    field = form.fields[name]
    assert isinstance(field, HolderField)  # noqa: S101 (tells the type checker)
    field.site = site
