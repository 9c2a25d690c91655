"""Setting a password by a code for one use."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from keyctl.accounts.models import WayBack
from keyctl.accounts.services import find_way_back
from keyctl.lib.errors import Refused

NEW = {"autocomplete": "new-password"}


class WayBackForm(forms.Form):
    username = forms.CharField(
        label=gettext_lazy("Username"),
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    code = forms.CharField(
        max_length=60,
        label=gettext_lazy("The code"),
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false", "class": "code"}),
    )
    new_password = forms.CharField(
        max_length=1000,
        strip=False,
        label=gettext_lazy("Your new password"),
        help_text=gettext_lazy("At least 12 signs; no common password, and nothing like your name."),
        widget=forms.PasswordInput(attrs=NEW),
    )
    again = forms.CharField(
        max_length=1000,
        strip=False,
        label=gettext_lazy("The new one again"),
        widget=forms.PasswordInput(attrs=NEW),
    )
    way: WayBack

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if self.errors:
            return facts
        try:
            self.way = find_way_back(username=facts["username"], code=facts["code"])
        except Refused as refused:
            raise forms.ValidationError(refused.message) from None
        if facts["new_password"] != facts["again"]:
            raise forms.ValidationError(_("The two new passwords differ. Type both again."))
        validate_password(facts["new_password"], self.way.user)
        return facts
