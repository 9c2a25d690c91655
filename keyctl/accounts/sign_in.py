"""What a session learns at a sign-in: when it ends, where it came from, by what it was proven."""

from datetime import timedelta
from time import time
from typing import Any

from allauth.account.authentication import get_authentication_records
from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext_lazy

from keyctl.accounts.agents import address_of, browser_of
from keyctl.accounts.models import User
from keyctl.accounts.services import note_sign_in
from keyctl.accounts.sessions import ADDRESS, BROWSER, SIGNED_IN_AT

WAYS = {
    "password": "password",
    "socialaccount": gettext_lazy("the organisation's sign-in"),
    "totp": "code",
    "webauthn": "passkey",
    "recovery_codes": gettext_lazy("recovery code"),
}


def begin_session(request: HttpRequest, user: User) -> None:
    """The session has a new key by now. It ends at a fixed time, however busy it is."""
    session, browser = request.session, browser_of(request)
    session.set_expiry(timezone.now() + timedelta(seconds=settings.SESSION_COOKIE_AGE))
    session[SIGNED_IN_AT], session[ADDRESS], session[BROWSER] = time(), address_of(request), browser
    note_sign_in(actor=user, ways=_ways(get_authentication_records(request, user)), browser=browser)


def _ways(records: list[dict[str, Any]]) -> list[str]:
    kinds = [record.get("type", record["method"]) for record in records]
    return list(dict.fromkeys(str(WAYS[kind]) for kind in kinds)) or ["hand"]
