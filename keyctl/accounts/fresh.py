"""Whether the person at the screen has just proven who they are: what shows a bitting asks for it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from allauth.account.authentication import AUTHENTICATION_METHODS_SESSION_KEY, get_authentication_records
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.lib.errors import Refused

FRESH_FOR = timedelta(minutes=5)
# Where the sign-in library keeps when and by what the session's person proved who they are, and who that is.
PROOFS = AUTHENTICATION_METHODS_SESSION_KEY
PROVEN = f"{PROOFS}_user"


class SignInAgain(Refused):
    """The sign-in is too old for what was asked. Pages lead to a new proof and come back."""

    def __init__(self) -> None:
        super().__init__(
            _("Your last sign-in is more than five minutes ago. Prove once more who you are, then try again.")
        )


@dataclass(frozen=True)
class FreshSignIn:
    """A person's proof of who they are, and its moment. Services that show a bitting want one."""

    user_id: UUID
    at: datetime

    def require(self, actor: User) -> None:
        """Refuse what is another's, or has grown old since the page asked."""
        if self.user_id != actor.pk or not _is_fresh(self.at):
            raise SignInAgain


def fresh_sign_in(request: HttpRequest) -> FreshSignIn:
    """The session's own proof; ``SignInAgain`` where it is older than five minutes, or none was kept."""
    user = request.user
    if not isinstance(user, User):
        raise SignInAgain
    proven = _last_proof(get_authentication_records(request, user))
    if proven is None or not _is_fresh(proven):
        raise SignInAgain
    return FreshSignIn(user.pk, proven)


def _last_proof(proofs: Iterable[dict[str, Any]]) -> datetime | None:
    moments = [datetime.fromtimestamp(proof["at"], UTC) for proof in proofs]
    return max(moments, default=None)


def _is_fresh(at: datetime) -> bool:
    return timedelta(0) <= timezone.now() - at <= FRESH_FOR
