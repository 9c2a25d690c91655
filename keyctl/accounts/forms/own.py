"""One's password, by the framework's form in the words of the house; and how pages speak to one."""

from typing import Any

from django import forms
from django.contrib.auth.forms import PasswordChangeForm
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import Dates, Language, Units, User
from keyctl.lib.forms import ServiceForm

LABELS = {
    "old_password": gettext_lazy("Your password now"),
    "new_password1": gettext_lazy("The new one"),
    "new_password2": gettext_lazy("The new one again"),
}


class PasswordForm(PasswordChangeForm):
    def __init__(self, user: User, data: Any = None) -> None:
        super().__init__(user, data)
        for name, label in LABELS.items():
            self.fields[name].label = label
            self.fields[name].help_text = ""
        self.fields["new_password1"].help_text = _(
            "At least 12 signs; no common password, and nothing like your name. A few plain words do well."
        )
        # The page is more than this form: the keyboard of a tablet stays down until it is wanted.
        del self.fields["old_password"].widget.attrs["autofocus"]


class SpeakingForm(ServiceForm):
    language = forms.ChoiceField(label=gettext_lazy("Language"), choices=Language, required=False)
    dates = forms.ChoiceField(label=gettext_lazy("Days are written"), choices=Dates, required=False)
    units = forms.ChoiceField(label=gettext_lazy("Lengths are shown in"), choices=Units, required=False)
