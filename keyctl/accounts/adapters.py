"""What the sign-in library asks of the house: its words, its pages, what is written down."""

from functools import partial
from typing import Any, NoReturn

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.models import Login
from allauth.core.exceptions import ImmediateHttpResponse
from allauth.core.internal import ratelimit
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from allauth.socialaccount.adapter import DefaultSocialAccountAdapter, _build_apps_from_settings
from allauth.socialaccount.models import SocialLogin
from django.contrib import messages
from django.contrib.auth.base_user import AbstractBaseUser
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.utils.translation import gettext_lazy

from keyctl.accounts import sealing
from keyctl.accounts.agents import address_of
from keyctl.accounts.models import User
from keyctl.accounts.returning import safe_next
from keyctl.accounts.services import note_failure, tie_to_provider
from keyctl.accounts.sign_in import begin_session
from keyctl.accounts.tally import counting_alone
from keyctl.lib.language import Text

NOT_KNOWN = gettext_lazy(
    "Nobody here is known by that sign-in. Ask an administrator to write your address down."
)
NOT_BELIEVED = gettext_lazy("The sign-in there did not come to an end. Try again, or sign in another way.")
TOO_MANY = "too_many_login_attempts"
# The library's own lock is a row put in, looked for again and again, and taken out: on a busy disk an office
# that came in at once was told of too many tries.
ratelimit.cache_lock = counting_alone


class AccountAdapter(DefaultAccountAdapter):
    error_messages = DefaultAccountAdapter.error_messages | {
        "username_password_mismatch": gettext_lazy("The name or the password is not correct."),
        "incorrect_password": gettext_lazy("The password is not correct."),
        TOO_MANY: gettext_lazy("Too many tries went wrong. Wait five minutes, then try again."),
        "rate_limited": gettext_lazy("Too many tries went wrong. Wait five minutes, then try again."),
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
        if not user.is_active:
            # They left between the password and the code.
            raise ImmediateHttpResponse(redirect("accounts:sign-in"))
        super().login(request, user)
        assert isinstance(user, User)  # noqa: S101 (the only model of people)
        begin_session(request, user)

    def respond_user_inactive(self, request: HttpRequest, user: AbstractBaseUser) -> HttpResponse:
        return redirect("accounts:sign-in")

    def post_login(self, request: HttpRequest, user: AbstractBaseUser, **facts: Any) -> HttpResponse:
        return HttpResponseRedirect(facts.get("redirect_url") or self.get_login_redirect_url(request))

    def is_safe_url(self, url: str) -> bool:
        return bool(safe_next(self.request, url))

    def is_login_by_code_required(self, login: Login) -> bool:
        return False


class FactorAdapter(DefaultMFAAdapter):
    error_messages = DefaultMFAAdapter.error_messages | {
        "incorrect_code": gettext_lazy(
            "This is not right, or it was used already. Wait for the next code, or try again."
        ),
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
    """Nobody signs up by the provider: it lets in whom an administrator or the directory wrote down."""

    def is_open_for_signup(self, request: HttpRequest, sociallogin: SocialLogin) -> bool:
        return False

    def pre_social_login(self, request: HttpRequest, sociallogin: SocialLogin) -> None:
        """Known by the subject that was kept; the first time, by an address that was verified there."""
        user = sociallogin.user if sociallogin.is_existing else self._tied(sociallogin)
        if user is None or not user.is_active:
            self._refuse(request, NOT_KNOWN)
        sociallogin.user = user

    def _tied(self, sociallogin: SocialLogin) -> User | None:
        verified = [one.email for one in sociallogin.email_addresses if one.verified]
        if not verified:
            return None
        return tie_to_provider(email=verified[0], account=sociallogin.account)

    def on_authentication_error(self, request: HttpRequest, provider: Any, **facts: Any) -> None:
        self._refuse(request, NOT_BELIEVED)

    def _refuse(self, request: HttpRequest, words: Text) -> NoReturn:
        note_failure(address=address_of(request))
        messages.error(request, words)
        raise ImmediateHttpResponse(redirect("accounts:sign-in"))

    def authenticate_by_email(self, sociallogin: SocialLogin) -> None:
        """The library would take an address that a person claims; ``pre_social_login`` decides alone."""

    def list_apps(
        self, request: HttpRequest, provider: str | None = None, client_id: str | None = None
    ) -> Any:
        """From the settings only: a row in the database names no provider."""
        found = _build_apps_from_settings(provider=provider, client_id=client_id)
        return [app for apps in found.values() for app in apps]

    def get_requests_session(self) -> Any:
        """The provider is asked where its own document says, and is not followed elsewhere."""
        session = super().get_requests_session()
        session.request = partial(session.request, allow_redirects=False)
        return session
