"""A code for one use, by which a person sets a password: for the first sign-in, and as a way back in for
somebody who lost every factor, or the password; the latter is made at the machine."""

import secrets
from datetime import timedelta
from hashlib import sha256

from allauth.mfa.models import Authenticator
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from keyctl.accounts.models import User, WayBack
from keyctl.accounts.services.sessions import drop_sessions
from keyctl.audit.services import record
from keyctl.lib.errors import Refused

HOLDS_FOR, FIRST_HOLDS_FOR = timedelta(minutes=30), timedelta(days=3)
NOT_TAKEN = gettext_lazy("The name and the code do not belong together, or the code was used or is too old.")


@transaction.atomic
def make_way_back(*, user: User) -> str:
    """Whoever sits at the machine made it, so history names nobody. Codes from before hold no more."""
    if not user.is_active:
        raise Refused(gettext("The sign-in of {user} has ended. Open it again first.").format(user=user))
    code = _new_code(user, HOLDS_FOR)
    record(
        actor=None,
        verb="account.way_back_made",
        sentence=f"made a way back in for {user}, at the machine",
        subjects=[user],
    )
    return code


def make_first_code(*, user: User) -> str:
    """For somebody new, who has no password yet. The caller's service tells of the person, and so of this."""
    return _new_code(user, FIRST_HOLDS_FOR)


def _new_code(user: User, holds_for: timedelta) -> str:
    code = "-".join(secrets.token_hex(4) for _ in range(4))
    WayBack.objects.filter(user=user, used_at=None).delete()
    WayBack.objects.create(user=user, digest=_digest(code), expires_at=timezone.now() + holds_for)
    return code


def find_way_back(*, username: str, code: str) -> WayBack:
    found = WayBack.objects.select_related("user").filter(
        digest=_digest(code.strip().lower()),
        user__username__iexact=username,
        user__is_active=True,
        used_at=None,
        expires_at__gt=timezone.now(),
    )
    way = found.first()
    if way is None:
        raise Refused(NOT_TAKEN)
    return way


@transaction.atomic
def take_way_back(*, way: WayBack, new_password: str) -> User:
    """A new password, no factors, no sessions: the person signs in and adds a factor anew."""
    taken = WayBack.objects.filter(pk=way.pk, used_at=None, expires_at__gt=timezone.now())
    if not taken.update(used_at=timezone.now()):
        raise Refused(NOT_TAKEN)
    user = way.user
    user.set_password(new_password)
    user.save(update_fields=["password"])
    factors = Authenticator.objects.filter(user=user).delete()[0]
    record(
        actor=user,
        verb="account.way_back_taken",
        sentence="set a password by a code for one use; second factors and sessions from before ended",
        subjects=[user],
        detail={"factors": factors, "sessions_ended": drop_sessions(user)},
    )
    return user


def _digest(code: str) -> str:
    return sha256(code.encode()).hexdigest()
