"""Form fields that read a shop's own way of writing sizes and lengths."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from keyctl.formats.sizes import Unreadable, drivers_text, parse_drivers, parse_sizes, sizes_text

PLAIN = {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}


class _Written(forms.CharField):
    """Text that is read into a list; what was typed stays as it is."""

    read: Callable[[str], list[Any]]
    write: Callable[[Any], str]

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            return type(self).read(text)
        except Unreadable as error:
            raise ValidationError(str(error)) from None

    def prepare_value(self, value: Any) -> Any:
        return value if isinstance(value, str) or value is None else type(self).write(value)


class SizesField(_Written):
    read, write = staticmethod(parse_sizes), staticmethod(sizes_text)

    def __init__(self, **facts: Any) -> None:
        facts.setdefault("widget", forms.TextInput(attrs={**PLAIN, "class": "code"}))
        super().__init__(max_length=300, **facts)


class DriversField(_Written):
    read, write = staticmethod(parse_drivers), staticmethod(drivers_text)

    def __init__(self, **facts: Any) -> None:
        facts.setdefault("widget", forms.Textarea(attrs={**PLAIN, "class": "code", "rows": 4}))
        super().__init__(max_length=2000, **facts)
