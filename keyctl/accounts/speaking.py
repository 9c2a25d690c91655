"""Language, days and lengths of a page: as the person chose, else as the browser or the house has them."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase
from django.utils import translation
from django.utils.cache import patch_vary_headers

from keyctl.accounts.models import User
from keyctl.lib import days, lengths
from keyctl.lib.language import ENGLISH

# Programs are answered in one language: what they read must not depend on who made their token.
FOR_PROGRAMS = ("/api/v1/", "/scim/", "/metrics")


class SpeakAsAsked:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        language, dates, units = _asked(request)
        with speaking(language, dates, units):
            response = self.get_response(request)
            response.headers.setdefault("Content-Language", language)
        if not request.path.startswith(FOR_PROGRAMS):
            patch_vary_headers(response, ("Accept-Language",))
        return response


@contextmanager
def speaking(
    language: str, dates: str = days.BY_LANGUAGE, units: str = lengths.AS_MEASURED
) -> Iterator[None]:
    token, chosen = days.style.set(dates), lengths.units.set(units)
    try:
        with translation.override(language):
            yield
    finally:
        days.style.reset(token)
        lengths.units.reset(chosen)


@contextmanager
def speaking_to(user: User | None) -> Iterator[None]:
    """For mail and work in the background, where no browser asks."""
    if user is None:
        with speaking(settings.LANGUAGE_CODE):
            yield
    else:
        with speaking(user.language or settings.LANGUAGE_CODE, user.dates, user.units):
            yield


@contextmanager
def speaking_to_mail(address: str) -> Iterator[None]:
    """As whoever has this address here reads; who has no account is written to as the house speaks."""
    users = User.objects.filter(email__iexact=address, is_active=True) if address else User.objects.none()
    with speaking_to(users.order_by("pk").first()):
        yield


def _asked(request: HttpRequest) -> tuple[str, str, str]:
    if request.path.startswith(FOR_PROGRAMS):
        return ENGLISH, days.ISO, lengths.AS_MEASURED
    user = request.user
    if isinstance(user, User):
        return user.language or _of_browser(request), user.dates, user.units
    return _of_browser(request), days.BY_LANGUAGE, lengths.AS_MEASURED


def _of_browser(request: HttpRequest) -> str:
    """A language that we speak, or the house's: Django reads the header, and falls back to the settings."""
    return translation.get_language_from_request(request)
