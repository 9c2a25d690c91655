"""Forms of the account, in the words of the house."""

from keyctl.accounts.forms.own import PasswordForm
from keyctl.accounts.forms.proving import CodeForm, ProvePasskeyForm, ProvePasswordForm
from keyctl.accounts.forms.signing import SecondCodeForm, SignInForm

__all__ = [
    "CodeForm",
    "PasswordForm",
    "ProvePasskeyForm",
    "ProvePasswordForm",
    "SecondCodeForm",
    "SignInForm",
]
