"""What the sign-in library asks of the house: its words, its pages, what is written down."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.models import Login
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from allauth.socialaccount.adapter import DefaultSocialAccountAdapter
from django.contrib.auth.base_user import AbstractBaseUser
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from keyctl.accounts import sealing
from keyctl.accounts.agents import address_of
from keyctl.accounts.models import User
from keyctl.accounts.returning import safe_next
from keyctl.accounts.services import note_failure
from keyctl.accounts.sign_in import begin_session

TOO_MANY = "too_many_login_attempts"


class AccountAdapter(DefaultAccountAdapter):
    error_messages = DefaultAccountAdapter.error_messages | {
        "username_password_mismatch": "The name or the password is not correct.",
        "incorrect_password": "The password is not correct.",
        TOO_MANY: "Too many tries went wrong. Wait five minutes, then try again.",
        "rate_limited": "Too many tries went wrong. Wait five minutes, then try again.",
    }

    def get_login_stages(self) -> list[str]:
        return ["keyctl.accounts.stages.SecondFactorStage"]

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        """Our own views ask for a fresh sign-in before they call the library."""
        return False

    def authenticate(self, request: HttpRequest, **credentials: Any) -> AbstractBaseUser | None:
        """Whoever left is answered like whoever never was."""
        user = super().authenticate(request, **credentials)
        return user if user is not None and user.is_active else None

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        note_failure(username=str(credentials.get("username", "")), address=address_of(request))

    def _get_login_attempts_cache_key(self, request: HttpRequest, **credentials: Any) -> str:
        """By the name alone: it is the same person, whichever of our hosts is asked."""
        return str(credentials.get("username", "")).lower()

    def get_client_ip(self, request: HttpRequest) -> str:
        return address_of(request) or "0.0.0.0"  # noqa: S104 (a request over a socket has no address)

    def login(self, request: HttpRequest, user: AbstractBaseUser) -> None:
        super().login(request, user)
        assert isinstance(user, User)  # noqa: S101 (the only model of people)
        begin_session(request, user)

    def post_login(self, request: HttpRequest, user: AbstractBaseUser, **facts: Any) -> HttpResponse:
        return HttpResponseRedirect(facts.get("redirect_url") or self.get_login_redirect_url(request))

    def is_safe_url(self, url: str) -> bool:
        return bool(safe_next(self.request, url))

    def is_login_by_code_required(self, login: Login) -> bool:
        return False


class FactorAdapter(DefaultMFAAdapter):
    error_messages = DefaultMFAAdapter.error_messages | {
        "incorrect_code": "This is not right, or it was used already. Wait for the next code, or try again.",
    }

    def encrypt(self, text: str) -> str:
        return sealing.seal(text)

    def decrypt(self, encrypted_text: str) -> str:
        return sealing.unseal(encrypted_text)

    def get_totp_label(self, user: AbstractBaseUser) -> str:
        return user.get_username()

    def _get_site_name(self) -> str:
        return "keyctl"

    def _get_user_identifier(self, user: AbstractBaseUser) -> str:
        return user.get_username()

    def generate_authenticator_name(self, user: AbstractBaseUser, type: Authenticator.Type) -> str:
        count = Authenticator.objects.filter(user_id=user.pk, type=type).count()
        return f"Passkey {count + 1}"


class ProviderAdapter(DefaultSocialAccountAdapter):
    def is_open_for_signup(self, request: HttpRequest, sociallogin: Any) -> bool:
        return False
