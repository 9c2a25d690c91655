"""Sessions: what is live, and how it ends."""

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from keyctl.accounts.models import Session, User
from keyctl.audit.services import record


@transaction.atomic
def end_session(*, actor: User, session: Session) -> None:
    """One of one's own."""
    place = f"{session.browser or 'a browser'}"
    session.delete()
    record(
        actor=actor,
        verb="account.session_ended",
        sentence=f"ended their session with {place}",
        subjects=[actor],
    )


@transaction.atomic
def end_sessions(*, actor: User, user: User, but: str | None = None) -> int:
    """One's own but the one in hand, or, for an administrator whose service has asked for the right, all."""
    ended = drop_sessions(user, but=but)
    if ended:
        whose = "their other sessions" if actor == user else f"the sessions of {user}"
        record(
            actor=actor,
            verb="account.session_ended",
            sentence=f"ended {whose}",
            subjects=[user],
            detail={"sessions": ended},
        )
    return ended


def drop_sessions(user: User, *, but: str | None = None) -> int:
    """How many live ones ended; ``but`` names the row of the one that goes on."""
    others = Session.objects.filter(user=user).exclude(session_key=but)
    live = _live(others).count()
    others.delete()
    return live


def drop_expired_sessions() -> None:
    Session.objects.filter(expire_date__lte=timezone.now()).delete()


def _live(sessions: QuerySet[Session]) -> QuerySet[Session]:
    return sessions.filter(expire_date__gt=timezone.now())
