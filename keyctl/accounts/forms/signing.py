"""A name with its password, and the code of a second factor."""

from typing import Any

from allauth.account.adapter import get_adapter
from allauth.core import context
from allauth.mfa.base.forms import AuthenticateForm
from allauth.mfa.models import Authenticator
from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from keyctl.accounts.agents import address_of
from keyctl.accounts.models import User
from keyctl.accounts.services import note_failure

CODE_ATTRIBUTES = {
    "autocomplete": "one-time-code",
    "autocapitalize": "off",
    "spellcheck": "false",
    "class": "code",
}
PASSWORD_ATTRIBUTES = {"autocomplete": "current-password"}


class SignInForm(forms.Form):
    username = forms.CharField(
        label=gettext_lazy("Username"),
        max_length=60,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "autofocus": True}
        ),
    )
    password = forms.CharField(
        label=gettext_lazy("Password"),
        max_length=1000,
        strip=False,
        widget=forms.PasswordInput(attrs=PASSWORD_ATTRIBUTES),
    )

    def __init__(self, request: HttpRequest, *args: Any) -> None:
        super().__init__(*args)
        self.request = request
        self.user: User | None = None

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        if self.errors:
            return facts
        adapter = get_adapter(self.request)
        self.user = adapter.authenticate(self.request, **facts)
        if self.user is None:
            raise adapter.validation_error("username_password_mismatch")
        return facts


class SecondCodeForm(AuthenticateForm):
    code = forms.CharField(
        max_length=40,
        label=gettext_lazy("Code"),
        help_text=gettext_lazy("Six digits from your app, or one of your recovery codes."),
        widget=forms.TextInput(attrs=CODE_ATTRIBUTES | {"autofocus": True}),
    )

    def _emit_authentication_failed(self, authenticator: Authenticator) -> None:
        note_failure(username=authenticator.user.username, address=address_of(context.request))
