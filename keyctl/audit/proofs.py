"""The proof that an entry is in the signed history, and the history as a file; `verifier` checks both."""

import json
from pathlib import Path
from typing import Any

from django.db import connection

from keyctl.audit.checkpoints import ENTRIES, checkpoint_over, hashes
from keyctl.audit.entries import linked_entries
from keyctl.audit.merkle import inclusion_path
from keyctl.lib.errors import Refused


def prove_entry(number: int) -> dict[str, Any]:
    """The entry, the first checkpoint after it and the path between them."""
    entry = next(linked_entries(connection, number - 1), None)
    if entry is None or entry["number"] != number:
        raise Refused(f"The history has no entry {number}.")
    checkpoint = checkpoint_over(number)
    if checkpoint is None:
        raise Refused(
            f"Entry {number} is not signed yet. The worker signs every hour, or after {ENTRIES} entries."
        )
    path = inclusion_path(number - 1, hashes(checkpoint["size"]))
    return {"entry": entry, "checkpoint": checkpoint, "path": [node.hex() for node in path]}


def export_history(file: Path) -> int:
    """Write every entry to a file, a line each; returns how many. No event holds a bitting."""
    count = 0
    with file.open("w", encoding="utf-8") as out:
        out.write(json.dumps({"history": 1}) + "\n")
        for entry in linked_entries(connection):
            out.write(json.dumps(entry, ensure_ascii=False) + "\n")
            count += 1
    return count
