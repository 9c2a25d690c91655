"""Proving once more who one is: by password, by code, by passkey."""

from typing import Any

from allauth.account.adapter import get_adapter
from allauth.core import context
from allauth.mfa.base.forms import ReauthenticateForm
from allauth.mfa.webauthn.forms import ReauthenticateWebAuthnForm
from django import forms
from django.utils.translation import gettext_lazy

from keyctl.accounts.forms.signing import CODE_ATTRIBUTES, PASSWORD_ATTRIBUTES
from keyctl.accounts.models import User

ProvePasskeyForm = ReauthenticateWebAuthnForm


class ProvePasswordForm(forms.Form):
    password = forms.CharField(
        max_length=1000,
        strip=False,
        label=gettext_lazy("Your password"),
        widget=forms.PasswordInput(attrs=PASSWORD_ATTRIBUTES),
    )

    def __init__(self, user: User, *args: Any) -> None:
        super().__init__(*args)
        self.user = user

    def clean_password(self) -> str:
        adapter = get_adapter(context.request)
        password = str(self.cleaned_data["password"])
        if not adapter.reauthenticate(self.user, password):
            raise adapter.validation_error("incorrect_password")
        return password


class CodeForm(ReauthenticateForm):
    code = forms.CharField(
        max_length=40,
        label=gettext_lazy("A code instead"),
        help_text=gettext_lazy("Six digits from your app, or one of your recovery codes."),
        widget=forms.TextInput(attrs=CODE_ATTRIBUTES),
    )
