"""A key typed by hand beside pins that are shown anyway: no stored key is looked up, and nothing is kept."""

from django import forms
from django.utils.translation import gettext_lazy

from keyctl import engine
from keyctl.lib.errors import Refused

CODE = {"class": "code", "autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}


def typed_key_field() -> forms.CharField:
    return forms.CharField(
        label=gettext_lazy("Push a key in: its cuts"),
        required=False,
        max_length=40,
        help_text=gettext_lazy(
            "From the same end as the pins. You see chamber by chamber what is free and what binds; the cuts "
            "are not kept."
        ),
        widget=forms.TextInput(
            attrs={
                "class": "code",
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
            }
        ),
    )


def typed_key(form: forms.Form, format_id: str) -> engine.Bitting | None:
    """The key that was typed, if any; it is no fact for a service, so it leaves the form's."""
    text = "".join(str(form.cleaned_data.pop("key", "")).split())
    if not text:
        return None
    try:
        return engine.read_key(format_id, text)
    except Refused as refusal:
        for sentence in refusal.sentences:
            form.add_error("key", sentence)
        return None
