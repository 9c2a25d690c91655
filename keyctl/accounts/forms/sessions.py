"""Which of one's own sessions ends."""

from typing import Any

from django import forms

from keyctl.accounts.models import Session, User
from keyctl.accounts.selectors import sessions_of


class OwnSessionForm(forms.Form):
    """Another's session is none of the choices."""

    session = forms.ModelChoiceField(Session.objects.none())

    def __init__(self, user: User, data: Any) -> None:
        super().__init__(data)
        self.fields["session"].queryset = sessions_of(user)  # type: ignore[attr-defined]
