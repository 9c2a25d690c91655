from django import forms

from keyctl.lib.forms import ServiceForm


class TakeForm(ServiceForm):
    why = forms.CharField(
        label="What for", max_length=300, help_text="For instance: before the west wing is keyed anew."
    )
