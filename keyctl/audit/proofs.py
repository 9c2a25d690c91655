"""The proof that an entry is in the signed history, and the history as a file; `verifier` checks both."""

import base64
import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import connection
from django.utils.translation import gettext as _

from keyctl.audit.checkpoints import ENTRIES, checkpoint_over, hashes
from keyctl.audit.entries import linked_entries
from keyctl.audit.merkle import inclusion_path
from keyctl.audit.models import Event, Link
from keyctl.audit.verifier import KNOWN_FORMS
from keyctl.lib.errors import Refused
from keyctl.lib.numbers import as_number


@dataclass(frozen=True)
class Witness:
    """What a paper says of an event's place in the history; no ``proof`` until a checkpoint is over it."""

    number: int
    hash: str
    proof: str = ""
    size: int = 0
    signed_at: datetime | None = None


def witness_of(event: Event | None) -> Witness | None:
    """None before the transaction that recorded the event has ended."""
    link = Link.objects.filter(event=event).first() if event else None
    if link is None:
        return None
    number, own = link.number, bytes(link.hash).hex()
    try:
        checkpoint = checkpoint_over(number)
    except Refused:  # a damaged checkpoint is told where history is checked
        checkpoint = None
    if checkpoint is None:
        return Witness(number, own)
    size = checkpoint["size"]
    path = base64.b64encode(b"".join(inclusion_path(number - 1, hashes(size)))).decode()
    signed_at = datetime.fromisoformat(checkpoint["at"])
    return Witness(number, own, f"{number}:{own}:{size}:{path}", size, signed_at)


def prove_entry(number: int) -> dict[str, Any]:
    """The entry, the first checkpoint after it and the path between them."""
    entry = next(linked_entries(connection, number - 1), None)
    if entry is None or entry["number"] != number:
        raise Refused(_("The history has no entry {number}.").format(number=number))
    checkpoint = checkpoint_over(number)
    if checkpoint is None:
        raise Refused(
            _(
                "Entry {number} is not signed yet. The worker signs every hour, or after {most} entries."
            ).format(number=number, most=as_number(ENTRIES))
        )
    path = inclusion_path(number - 1, hashes(checkpoint["size"]))
    return {"entry": entry, "checkpoint": checkpoint, "path": [node.hex() for node in path]}


def export_history(file: Path) -> int:
    """Write every entry to a file, a line each; returns how many. No event holds a bitting."""
    count = 0
    with file.open("w", encoding="utf-8") as out:
        out.write(json.dumps({"history": KNOWN_FORMS[-1]}) + "\n")
        for entry in linked_entries(connection):
            out.write(json.dumps(entry, ensure_ascii=False) + "\n")
            count += 1
    return count
