"""Forms that hand their facts to a service and show what it refuses."""

from collections.abc import Callable
from typing import Any, TypeVar

from django import forms
from django.utils.translation import gettext_lazy

from keyctl.lib.errors import Refused

Result = TypeVar("Result")


# What to do about a field left empty, by the widget that asks.
LEFT_EMPTY = (
    (forms.ClearableFileInput, gettext_lazy("Choose a file.")),
    (forms.CheckboxInput, gettext_lazy("Tick this to go on.")),
    ((forms.SelectMultiple, forms.CheckboxSelectMultiple), gettext_lazy("Choose at least one.")),
    ((forms.Select, forms.RadioSelect), gettext_lazy("Choose one.")),
    (forms.Widget, gettext_lazy("Fill this in.")),
)


class ServiceForm(forms.Form):
    """``form.attempt(service, actor=...)`` calls the service with the cleaned facts.

    Returns the service's result, or None where the form or the service refused; the sentences then stand
    in the form's errors and what the person typed is kept.
    """

    # What the service refused with: it may know a way on.
    refusal: Refused | None = None

    def full_clean(self) -> None:
        for field in self.fields.values():
            if field.error_messages.get("required") == forms.Field.default_error_messages["required"]:
                field.error_messages["required"] = _left_empty(field.widget)
        super().full_clean()

    def attempt(self, service: Callable[..., Result], **facts: Any) -> Result | None:
        if not self.is_valid():
            return None
        try:
            return service(**facts, **self.cleaned_data)
        except Refused as refusal:
            self.refusal = refusal
            for sentence in refusal.sentences:
                self.add_error(None, sentence)
            return None


class VersionForm(ServiceForm):
    """An act on a thing carries the version that the page showed."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, seen: Any, **kwargs: Any) -> None:
        # Several of these forms stand on one page; their fields keep apart by their identifiers.
        kwargs.setdefault("auto_id", f"{type(self).__name__.lower()}_%s")
        super().__init__(*args, **kwargs)
        self.seen = seen
        self.fields["version"].initial = seen.version


def _left_empty(widget: forms.Widget) -> Any:
    return next(words for kinds, words in LEFT_EMPTY if isinstance(widget, kinds))
