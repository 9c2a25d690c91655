"""Passwords, and how a sign-in ends and begins again."""

import logging
from collections.abc import Sequence

from django.core.cache import cache
from django.db import transaction

from keyctl.accounts.models import User
from keyctl.accounts.services.sessions import drop_expired_sessions, drop_sessions
from keyctl.audit.services import record

# As the limits of the settings have it.
MOST_FAILURES, BURST_S = 5, 300
logger = logging.getLogger("keyctl.accounts")


@transaction.atomic
def change_password(*, actor: User, new_password: str, session: str | None = None) -> User:
    """The form has asked for the current password and weighed the new one. Other sessions end."""
    actor.set_password(new_password)
    actor.save(update_fields=["password"])
    drop_sessions(actor, but=session)
    record(
        actor=actor,
        verb="account.password_changed",
        sentence="changed their own password",
        subjects=[actor],
    )
    return actor


@transaction.atomic
def end_sign_in(*, actor: User, user: User) -> bool:
    """Nobody signs in as this user any more, and who is signed in is out. False where it had ended already.

    The caller's service has asked for the right to do so. Roles are kept: they say what a person was.
    """
    if not User.objects.filter(pk=user.pk, is_active=True).update(is_active=False):
        return False
    user.is_active = False
    ended = drop_sessions(user)
    record(
        actor=actor,
        verb="account.sign_in_ended",
        sentence=f"ended the sign-in of {user}",
        subjects=[user],
        detail={"sessions": ended},
    )
    return True


@transaction.atomic
def begin_sign_in(*, actor: User, user: User) -> bool:
    """They may sign in again, with the password and the roles they had. False where they may already."""
    if not User.objects.filter(pk=user.pk, is_active=False).update(is_active=True):
        return False
    user.is_active = True
    record(
        actor=actor,
        verb="account.sign_in_begun",
        sentence=f"opened the sign-in of {user} again",
        subjects=[user],
    )
    return True


@transaction.atomic
def note_sign_in(*, actor: User, ways: Sequence[str], browser: str) -> None:
    """Somebody is in. Sessions that have run out go on this occasion."""
    drop_expired_sessions()
    record(
        actor=actor,
        verb="account.signed_in",
        sentence=f"signed in by {' and '.join(ways)}, with {browser}",
        subjects=[actor],
    )


def note_failure(*, username: str = "", address: str | None) -> None:
    """A line of the log, found by its request's number, without the name: people type passwords there.

    So many under one name that no more are looked at for a while are one event, and not one for each try.
    """
    logger.warning("a sign-in failed", extra={"address": address or ""})
    name = f"failures:{username.lower()}"
    count = cache.get(name, 0) + 1
    cache.set(name, count, BURST_S)
    if count == MOST_FAILURES:
        _note_burst(username)


@transaction.atomic
def _note_burst(username: str) -> None:
    user = User.objects.filter(username__iexact=username).first()
    if user is not None:
        record(
            actor=None,
            verb="account.sign_in_held_up",
            sentence=f"looks at no more tries to sign in as {user} for five minutes: too many went wrong",
            subjects=[user],
            detail={"failures": MOST_FAILURES},
        )
