"""Forms of the account, in the words of the house."""

from keyctl.accounts.forms.factors import AppForm, OwnFactorForm, PasskeyForm
from keyctl.accounts.forms.own import PasswordForm, SpeakingForm
from keyctl.accounts.forms.proving import CodeForm, ProvePasskeyForm, ProvePasswordForm
from keyctl.accounts.forms.sessions import OwnSessionForm
from keyctl.accounts.forms.signing import SecondCodeForm, SignInForm
from keyctl.accounts.forms.ways_back import WayBackForm

__all__ = [
    "AppForm",
    "CodeForm",
    "OwnFactorForm",
    "OwnSessionForm",
    "PasskeyForm",
    "PasswordForm",
    "ProvePasskeyForm",
    "ProvePasswordForm",
    "SecondCodeForm",
    "SignInForm",
    "SpeakingForm",
    "WayBackForm",
]
