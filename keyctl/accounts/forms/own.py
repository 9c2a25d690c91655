"""Changing one's password: the framework's form, in the words of the house."""

from typing import Any

from django.contrib.auth.forms import PasswordChangeForm

from keyctl.accounts.models import User

LABELS = {
    "old_password": "Your password now",
    "new_password1": "The new one",
    "new_password2": "The new one again",
}


class PasswordForm(PasswordChangeForm):
    def __init__(self, user: User, data: Any = None) -> None:
        super().__init__(user, data)
        for name, label in LABELS.items():
            self.fields[name].label = label
            self.fields[name].help_text = ""
        self.fields[
            "new_password1"
        ].help_text = (
            "At least 12 signs; no common password, and nothing like your name. A few plain words do well."
        )
        # The page is more than this form: the keyboard of a tablet stays down until it is wanted.
        del self.fields["old_password"].widget.attrs["autofocus"]
