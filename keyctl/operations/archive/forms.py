"""Asking for an archive, and the passphrase that will open it."""

from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy

from keyctl.lib.forms import ServiceForm
from keyctl.operations.archive.container import SHORTEST_PASSPHRASE
from keyctl.operations.models import EstateArchive


class AskForm(ServiceForm):
    reason = forms.CharField(
        label=gettext_lazy("Why do you need it?"),
        max_length=200,
        help_text=gettext_lazy(
            "It stands in the register and in history, and the security officer decides by it."
        ),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class PassphraseForm(ServiceForm):
    passphrase = forms.CharField(
        label=gettext_lazy("Passphrase"),
        strip=False,
        max_length=1000,
        help_text=format_lazy(
            gettext_lazy("At least {shortest} characters, best six words drawn by lot. Kept nowhere."),
            shortest=SHORTEST_PASSPHRASE,
        ),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=gettext_lazy("Once more"),
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *args: Any, archive: EstateArchive, **kwargs: Any) -> None:
        # Several of these may stand on one page.
        kwargs["auto_id"] = f"archive-{archive.number}-%s"
        super().__init__(*args, **kwargs)
        self.archive = archive
