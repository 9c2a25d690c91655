"""How the history stands: how long it is, what was signed of it and when, and what the last checks said."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from keyctl.audit import signing
from keyctl.audit.checkpoints import latest_checkpoint
from keyctl.audit.models import Head
from keyctl.jobs.selectors import RoutineRow, routine_rows
from keyctl.lib.errors import Refused

ROUTINES = "history."


@dataclass(frozen=True)
class PublicKey:
    """What checks signatures; the fingerprint is what two people compare."""

    text: str
    fingerprint: str


@dataclass(frozen=True)
class State:
    entries: int
    signed_entries: int
    signed_at: datetime | None
    folder: Path
    checkpoints: int
    folder_bytes: int
    key: PublicKey | None
    # What keeps something from being said, in words.
    trouble: str
    routines: Sequence[RoutineRow]

    @property
    def age(self) -> timedelta | None:
        return timezone.now() - self.signed_at if self.signed_at else None

    @property
    def unsigned(self) -> int:
        return max(0, self.entries - self.signed_entries)


def state_of_history() -> State:
    head = Head.objects.first()
    sizes = [file.stat().st_size for file in settings.CHECKPOINT_DIR.glob("*.json")]
    trouble, last = "", None
    try:
        last = latest_checkpoint()
    except Refused as refusal:
        trouble = " ".join(refusal.sentences)
    return State(
        entries=head.number if head else 0,
        signed_entries=last["size"] if last else 0,
        signed_at=datetime.fromisoformat(last["at"]) if last else None,
        folder=settings.CHECKPOINT_DIR,
        checkpoints=len(sizes),
        folder_bytes=sum(sizes),
        key=public_key(),
        trouble=trouble,
        routines=[row for row in routine_rows() if row.kind.name.startswith(ROUTINES)],
    )


def public_key() -> PublicKey | None:
    """None before the first signing, or where its file is missing: then the key that was noted checks."""
    try:
        key = signing.public_key()
    except Refused:
        return None
    return PublicKey(key.hex(), fingerprint_of(key))


def fingerprint_of(key: bytes) -> str:
    """Of its SHA-256 the first half, in groups of four."""
    digits = hashlib.sha256(key).hexdigest()[:32]
    return " ".join(digits[start : start + 4] for start in range(0, len(digits), 4))
