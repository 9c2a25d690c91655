"""What holds for every request of somebody signed in: sessions that end, a second factor, a fresh proof."""

from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from http import HTTPStatus
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY, logout
from django.contrib.auth.middleware import get_user
from django.contrib.auth.models import AnonymousUser
from django.db import OperationalError
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect, resolve_url
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.utils.translation import gettext_lazy
from django_htmx.http import HttpResponseClientRedirect

from keyctl.accounts.factors import is_trusted_with_secrets, lacks_second_factor
from keyctl.accounts.fresh import SignInAgain
from keyctl.accounts.models import Session, User
from keyctl.lib.http import problem
from keyctl.lib.language import Text

GetResponse = Callable[[HttpRequest], HttpResponseBase]

# A session's time is written at most so often: looking at pages should not keep the database writing.
NOTED_EVERY = timedelta(minutes=1)
ENDED = "ended-idle"
# What is open to somebody who must get a second factor first.
TO_A_FACTOR = {
    "accounts:sign-in",
    "accounts:provider",
    "accounts:provider-callback",
    "accounts:sign-out",
    "accounts:prove",
    "accounts:factors",
    "accounts:add-app",
    "accounts:add-passkey",
    "accounts:recovery-codes",
    "field:state",
}
FIRST_A_FACTOR = gettext_lazy(
    "Your role sees bittings or decides on keys that open much. Add a second factor first."
)


class EndIdleSessions:
    """Whoever may see bittings and was silent for long is signed out; a tablet keeps what is unsent."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        # The person, not the wrapper that looks for them: whatever asks it what it is takes a detour there.
        request.user = _person(request)
        if isinstance(request.user, User):
            self._look_at(request, request.user, getattr(request.session, "row", None))
        return self.get_response(request)

    def _look_at(self, request: HttpRequest, user: User, row: Session | None) -> None:
        if row is None or row.seen_at is None:
            return
        silent = timezone.now() - row.seen_at
        if silent.total_seconds() > settings.SESSION_IDLE_AGE and is_trusted_with_secrets(user):
            logout(request)
            request.session[ENDED] = True
        elif silent > NOTED_EVERY:
            # Who only reads goes on where nothing can be written, be the disk full.
            with suppress(OperationalError):
                Session.objects.filter(pk=row.pk).update(seen_at=timezone.now())


def _person(request: HttpRequest) -> User | AnonymousUser:
    """Who came with the session's row, where everything holds that Django asks; else Django asks itself."""
    told = {
        name: request.session.get(name, "") for name in (SESSION_KEY, BACKEND_SESSION_KEY, HASH_SESSION_KEY)
    }
    row: Session | None = getattr(request.session, "row", None)
    user = row.user if row else None
    if (
        user is not None
        and user.is_active
        and str(user.pk) == told[SESSION_KEY]
        and told[BACKEND_SESSION_KEY] in settings.AUTHENTICATION_BACKENDS
        and constant_time_compare(told[HASH_SESSION_KEY], user.get_session_auth_hash())
    ):
        # Where Django keeps whom it found: the lines of the log look there.
        request._cached_user = user  # type: ignore[attr-defined]
        return user
    return get_user(request)


class AskForSecondFactor:
    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *_view: Any) -> HttpResponseBase | None:
        user = request.user
        route = request.resolver_match.view_name if request.resolver_match else ""
        if not isinstance(user, User) or route in TO_A_FACTOR or not lacks_second_factor(user):
            return None
        return _led(request, resolve_url("accounts:factors"), HTTPStatus.FORBIDDEN, FIRST_A_FACTOR)


class LeadToProof:
    """``SignInAgain`` leads to a new proof of who one is, and from there back to the page that asked.

    What was sent is not kept and sent again by itself: an act that shows a bitting is pressed by a person.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponseBase | None:
        if not isinstance(exception, SignInAgain):
            return None
        address = f"{resolve_url('accounts:prove')}?{urlencode({'next': _page_of(request)})}"
        return _led(request, address, HTTPStatus.UNAUTHORIZED, exception.message)


def _led(request: HttpRequest, address: str, status: HTTPStatus, words: Text) -> HttpResponseBase:
    """A person goes there, by HTMX or without; a program is told."""
    if getattr(request, "htmx", False):
        return HttpResponseClientRedirect(address)
    if _is_program(request):
        return problem(status, words)
    return redirect(address)


def _is_program(request: HttpRequest) -> bool:
    """Browsers say of each request whether its answer is for a page or for a script."""
    is_script = request.headers.get("Sec-Fetch-Dest") == "empty"
    return is_script or request.content_type == "application/json" or not request.accepts("text/html")


def _page_of(request: HttpRequest) -> str:
    """The page that the person looks at: for a form that was sent, the one it stood on."""
    htmx = getattr(request, "htmx", None)
    if htmx:
        return htmx.current_url_abs_path or "/"
    if request.method == "GET":
        return request.get_full_path()
    came_from = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(came_from, {request.get_host()}):
        return "/"
    parts = urlsplit(came_from)
    return parts._replace(scheme="", netloc="", fragment="").geturl()
