"""What people change about their own account, and how a sign-in ends and begins again."""

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.db import transaction
from django.utils import timezone

from keyctl.accounts.models import User
from keyctl.audit.services import record


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
    ended = _end_sessions(user)
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


def _end_sessions(user: User) -> int:
    """A session names its user inside; there are few, for each lives for hours."""
    live = Session.objects.filter(expire_date__gt=timezone.now())
    own = [
        session.pk
        for session in live.iterator(chunk_size=500)
        if session.get_decoded().get(SESSION_KEY) == str(user.pk)
    ]
    Session.objects.filter(pk__in=own).delete()
    return len(own)
