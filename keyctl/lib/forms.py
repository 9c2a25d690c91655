"""Forms that hand their facts to a service and show what it refuses."""

from collections.abc import Callable
from typing import Any, TypeVar

from django import forms

from keyctl.lib.errors import Refused

Result = TypeVar("Result")


class ServiceForm(forms.Form):
    """``form.attempt(service, actor=...)`` calls the service with the cleaned facts.

    Returns the service's result, or None where the form or the service refused; the sentences then stand
    in the form's errors and what the person typed is kept.
    """

    # What the service refused with: it may know a way on.
    refusal: Refused | None = None

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
