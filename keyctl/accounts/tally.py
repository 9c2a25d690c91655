"""The cache that all processes share: rows of the database, as JSON.

A limit that each process counted for itself would grow with the processes. Nothing is pickled here: whoever
could write to the table could otherwise have the web process run what they like.
"""

import random
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import Any

from django.core.cache.backends.base import DEFAULT_TIMEOUT, BaseCache
from django.db import IntegrityError, connection, transaction
from django.db.models import QuerySet
from django.utils import timezone

from keyctl.accounts.models import Tally

FOR_EVER = timedelta(days=3650)
# Of so many rows that are added, one sweeps away what has expired.
SWEEPS = 50


@contextmanager
def counting_alone(key: str) -> Iterator[bool]:
    """Nobody else counts under the key meanwhile: SQLite has one writer, PostgreSQL a lock for each key."""
    with transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [key])
        yield True


class SharedTally(BaseCache):
    def __init__(self, _location: str, params: dict[str, Any]) -> None:
        super().__init__(params)

    def add(self, key: str, value: Any, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> bool:
        """True for one alone of any number who ask at once: the primary key decides."""
        if random.randrange(SWEEPS) == 0:  # noqa: S311 (no secret: when to tidy up)
            Tally.objects.filter(expires_at__lte=timezone.now()).delete()
        name, until = self._row(key, version), self._until(timeout)
        # Whoever waits for a lock asks again and again: to read costs nobody else's turn to write.
        if self._live(name).exists():
            return False
        with transaction.atomic():
            expired = Tally.objects.filter(key=name, expires_at__lte=timezone.now())
            return bool(expired.update(value=value, expires_at=until)) or self._is_first(name, value, until)

    def _is_first(self, name: str, value: Any, until: datetime) -> bool:
        try:
            with transaction.atomic():
                Tally.objects.create(key=name, value=value, expires_at=until)
        except IntegrityError:
            return False
        return True

    def get(self, key: str, default: Any = None, version: int | None = None) -> Any:
        found = self._live(self._row(key, version)).values_list("value", flat=True).first()
        return default if found is None else found

    def set(self, key: str, value: Any, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> None:
        facts = {"value": value, "expires_at": self._until(timeout)}
        Tally.objects.update_or_create(key=self._row(key, version), defaults=facts)

    def touch(self, key: str, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> bool:
        return bool(self._live(self._row(key, version)).update(expires_at=self._until(timeout)))

    def delete(self, key: str, version: int | None = None) -> bool:
        return bool(Tally.objects.filter(key=self._row(key, version)).delete()[0])

    def clear(self) -> None:
        Tally.objects.all().delete()

    def _live(self, name: str) -> QuerySet[Tally]:
        return Tally.objects.filter(key=name, expires_at__gt=timezone.now())

    def _row(self, key: str, version: int | None) -> str:
        """Keys hold addresses and names of people; their digest says as much to the count."""
        return sha256(self.make_key(key, version=version).encode()).hexdigest()

    def _until(self, timeout: Any) -> datetime:
        seconds = self.get_backend_timeout(timeout)
        return timezone.now() + FOR_EVER if seconds is None else datetime.fromtimestamp(seconds, UTC)
