"""How much a token may ask for in a minute, reads and writes apart, counted over all processes.

A process takes some of the minute's requests at a time from the database and deals them out itself: else
each read would be a write, and wait behind whoever writes.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Lock
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from keyctl.api.models import Token, Usage
from keyctl.api.problems import Problem

MINUTE = 60
# The part of a minute's requests that a process takes at a time.
PARTS = 50


@dataclass
class Share:
    """What a process may still deal out in a minute, and what was left for others when it took that."""

    minute: datetime
    left: int
    rest: int


@dataclass(frozen=True)
class Standing:
    kind: Usage.Kind
    limit: int
    left: int
    seconds: int

    @property
    def headers(self) -> dict[str, str]:
        """As the IETF's draft on RateLimit fields writes them: lists of structured fields."""
        left = max(0, self.left)
        return {
            "RateLimit-Policy": f'"{self.kind.value}";q={self.limit};w={MINUTE}',
            "RateLimit": f'"{self.kind.value}";r={left};t={self.seconds}',
        }


_shares: dict[tuple[UUID, str], Share] = {}
_mutex = Lock()


def spend(token: Token, kind: Usage.Kind) -> Standing:
    """One request less; who has none left is told by ``refuse_beyond``."""
    now = timezone.now()
    minute, limit = now.replace(second=0, microsecond=0), limit_of(kind)
    with _mutex:
        share = _shares.get((token.pk, kind.value))
        if share is None or share.minute < minute or (not share.left and share.rest):
            share = _take_share(token, kind, minute, limit)
            _shares[token.pk, kind.value] = share
        left = share.left + share.rest
        share.left = max(0, share.left - 1)
    seconds = max(1, MINUTE - (now - minute).seconds)
    return Standing(kind, limit, left - 1, seconds)


def refuse_beyond(standing: Standing) -> None:
    if standing.left < 0:
        words = f"This token may ask for {standing.limit} {standing.kind.value} in a minute."
        raise Problem(
            "too-many-requests",
            f"{words} Go on in {standing.seconds} seconds.",
            headers={"Retry-After": str(standing.seconds)},
            more={"violated-policies": [standing.kind.value]},
        )


def limit_of(kind: Usage.Kind) -> int:
    limit: int = settings.API_READS if kind == Usage.Kind.READS else settings.API_WRITES
    return limit


@transaction.atomic
def _take_share(token: Token, kind: Usage.Kind, minute: datetime, limit: int) -> Share:
    row, _ = Usage.objects.select_for_update().get_or_create(
        token=token, kind=kind, defaults={"minute": minute, "count": 0}
    )
    # Another host's clock may be ahead, but not by more than this.
    if row.minute < minute or row.minute > minute + timedelta(seconds=MINUTE):
        row.minute, row.count = minute, 0
    granted = max(0, min(limit // PARTS or 1, limit - row.count))
    row.count += granted
    row.save(update_fields=["minute", "count"])
    return Share(minute, granted, max(0, limit - row.count))
