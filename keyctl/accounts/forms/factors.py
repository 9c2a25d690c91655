"""Adding a second factor."""

from typing import Any

from allauth.mfa.adapter import get_adapter
from allauth.mfa.models import Authenticator
from allauth.mfa.webauthn.internal import auth
from django import forms
from django.utils.translation import gettext_lazy

from keyctl.accounts.forms.signing import CODE_ATTRIBUTES
from keyctl.accounts.models import User
from keyctl.lib.forms import ServiceForm


class AppForm(ServiceForm):
    code = forms.CharField(
        max_length=10,
        label=gettext_lazy("The code that the app shows now"),
        widget=forms.TextInput(attrs=CODE_ATTRIBUTES | {"inputmode": "numeric"}),
    )


class PasskeyForm(ServiceForm):
    name = forms.CharField(
        max_length=40,
        label=gettext_lazy("Its name"),
        help_text=gettext_lazy("Such as phone, or key on the ring."),
    )
    credential = forms.JSONField(widget=forms.HiddenInput)

    def __init__(self, user: User, *args: Any) -> None:
        kind = Authenticator.Type.WEBAUTHN
        super().__init__(*args)
        self.fields["name"].initial = get_adapter().generate_authenticator_name(user, kind)

    def clean_credential(self) -> dict[str, Any]:
        """It answers the challenge of this session, for this host, and the person was asked by the device."""
        credential: Any = self.cleaned_data["credential"]
        auth.parse_registration_response(credential)
        if not auth.complete_registration(credential).is_user_verified():
            raise get_adapter().validation_error("incorrect_code")
        return dict(credential)


class OwnFactorForm(forms.Form):
    """Which of one's own factors; another's is none of the choices."""

    factor = forms.ModelChoiceField(Authenticator.objects.none())

    def __init__(self, user: User, data: Any) -> None:
        super().__init__(data)
        kinds = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
        self.fields["factor"].queryset = Authenticator.objects.filter(  # type: ignore[attr-defined]
            user=user, type__in=kinds
        )
