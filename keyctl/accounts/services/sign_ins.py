"""Passwords, and how a sign-in ends and begins again."""

import logging
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import Session, User
from keyctl.audit.services import record

logger = logging.getLogger("keyctl.accounts")


@transaction.atomic
def change_password(*, actor: User, new_password: str) -> User:
    """The form has asked for the current password and weighed the new one."""
    actor.set_password(new_password)
    actor.save(update_fields=["password"])
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
    Session.objects.filter(expire_date__lte=timezone.now()).delete()
    record(
        actor=actor,
        verb="account.signed_in",
        sentence=f"signed in by {' and '.join(ways)}, with {browser}",
        subjects=[actor],
    )


def drop_sessions(user: User, *, but: str | None = None) -> int:
    """How many live sessions of theirs ended; ``but`` names the row of the one that goes on."""
    others = Session.objects.filter(user=user).exclude(session_key=but)
    live = others.filter(expire_date__gt=timezone.now()).count()
    others.delete()
    return live


def note_failure(*, address: str | None) -> None:
    """A line of the log, found by its request's number. Not the name: people type passwords there."""
    logger.warning("a sign-in failed", extra={"address": address or ""})
