"""Sessions in the database: named by a digest of their key, with their person, their place and their times.

The row is written from the session's own data, so a key that changes at a sign-in takes all of it along.
"""

from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseSessions
from django.utils import timezone

from keyctl.accounts.models import Session
from keyctl.lib.prepared import Prepared, Slot

# What a session remembers of its sign-in.
SIGNED_IN_AT, ADDRESS, BROWSER = "signed-in-at", "address", "browser"

# With its person: each request asks for both.
_LIVE = Prepared(
    lambda: (
        Session.objects.select_related("user")
        .filter(expire_date__gt=Slot("now"), session_key=Slot("digest"))
        .order_by()
    )
)


def digest_of(key: str) -> str:
    """At most 40 signs fit the row; 160 bits of a key that is itself random are plenty."""
    return sha256(key.encode()).hexdigest()[:40]


class SessionStore(DatabaseSessions):
    # As it was found; none for a session that this very request began.
    row: Session | None = None

    @classmethod
    def get_model_class(cls) -> type[Session]:
        return Session

    def _get_session_from_db(self) -> Session | None:
        self.row = _LIVE.first(now=timezone.now(), digest=digest_of(str(self.session_key)))
        if self.row is None:
            self._session_key = None
        return self.row

    def exists(self, session_key: str) -> bool:
        return Session.objects.filter(session_key=digest_of(session_key)).exists()

    def create_model_instance(self, data: dict[str, Any]) -> Session:
        return Session(
            session_key=digest_of(self._get_or_create_session_key()),  # type: ignore[attr-defined]
            session_data=self.encode(data),
            expire_date=self.get_expiry_date(),
            user_id=data.get(SESSION_KEY),
            address=data.get(ADDRESS),
            browser=data.get(BROWSER, ""),
            signed_in_at=_moment(data.get(SIGNED_IN_AT)),
            seen_at=timezone.now(),
        )

    def delete(self, session_key: str | None = None) -> None:
        key = session_key or self.session_key
        if key is not None:
            Session.objects.filter(session_key=digest_of(key)).delete()


def _moment(seconds: float | None) -> datetime | None:
    return None if seconds is None else datetime.fromtimestamp(seconds, UTC)
