"""Everything that can be wrong with the history, one sentence each; nothing is changed."""

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection

from keyctl.audit import signing
from keyctl.audit.checkpoints import ENTRIES, SIGNED, Checkpoint, hashes
from keyctl.audit.entries import FIRST, Noted, linked_steps
from keyctl.audit.guards import guard_findings
from keyctl.audit.verifier import (
    BEGINNING,
    Tree,
    chain_findings,
    checkpoint_digest,
    checkpoint_findings,
    read_checkpoints,
)

HEAD = """
    SELECT h.number, h.hash, l.number, l.hash
    FROM (SELECT 1 AS id) AS one LEFT JOIN audit_head h ON h.id = one.id
    LEFT JOIN audit_link l ON l.number = (SELECT max(number) FROM audit_link)
"""
UNLINKED = """
    SELECT e.id FROM audit_event e WHERE NOT EXISTS (SELECT 1 FROM audit_link l WHERE l.event_id = e.id)
    ORDER BY e.id
"""
OF_NO_EVENT = """
    SELECT s.event_id FROM audit_eventsubject s
    WHERE NOT EXISTS (SELECT 1 FROM audit_event e WHERE e.id = s.event_id) ORDER BY s.event_id
"""


def check_history(key: bytes | None = None, folder: Path | None = None) -> Iterator[str]:
    """``key`` is the public key that somebody noted; without it that of the secrets folder counts. ``folder``
    holds the checkpoints, where they are not the installation's own."""
    checkpoints, trouble = _checkpoints(folder or settings.CHECKPOINT_DIR)
    yield from _findings_beside(checkpoints, key)
    yield from trouble
    noted: Noted = {SIGNED: []}
    yield from _chain(checkpoints, Tree(), BEGINNING, noted)
    yield from _missing_findings(
        checkpoints, {_digest_in(detail): number for number, detail in noted[SIGNED]}
    )


def check_newest(signed_before: datetime) -> Iterator[str]:
    """The same, but entries that were signed before then are not read: only their hashes are held against the
    signed tree. So it takes a moment, and the whole is for the night."""
    checkpoints, trouble = _checkpoints(settings.CHECKPOINT_DIR)
    yield from _findings_beside(checkpoints, None)
    yield from trouble
    old = [each for each in checkpoints if datetime.fromisoformat(each["at"]) < signed_before]
    leaves = hashes(old[-1]["size"]) if old else []
    yield from _chain(checkpoints, Tree(leaves), leaves[-1] if leaves else BEGINNING, {})


def _findings_beside(checkpoints: list[Checkpoint], key: bytes | None) -> Iterator[str]:
    """What is seen without reading an entry."""
    yield from guard_findings(connection)
    yield from _head_findings()
    yield from (f"event {pk}: it is in no entry of the history." for pk in _column(UNLINKED))
    yield from (f"event {pk}: it is gone, and its subjects are there." for pk in _column(OF_NO_EVENT))
    # Before the first signing there is no key yet, and nothing that it would check.
    own = key or (signing.public_key() if checkpoints else b"")
    yield from checkpoint_findings(checkpoints, own, signing.is_signed)
    last = _column("SELECT max(number) FROM audit_link")[0] or 0
    if not checkpoints and last >= ENTRIES:
        yield f"checkpoints: there is none, and there are {last} entries."


def _chain(checkpoints: list[Checkpoint], tree: Tree, before: bytes, noted: Noted) -> Iterator[str]:
    """Entries after those in ``tree``; one that hides below the first would be read too."""
    yield from _root_findings(checkpoints, tree)
    try:
        steps = linked_steps(connection, tree.size or FIRST, noted)
        yield from chain_findings(steps, checkpoints, tree, before)
    except DatabaseError as error:
        yield f"history: the database cannot read it: {error}."


def _root_findings(checkpoints: list[Checkpoint], tree: Tree) -> Iterator[str]:
    for each in checkpoints:
        if each["size"] == tree.size and each["root"] != tree.root().hex():
            yield f"checkpoint {tree.size}: the entries up to here are not those that were signed."


def _column(sql: str) -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return [value for (value,) in cursor.fetchall()]


def _head_findings() -> Iterator[str]:
    with connection.cursor() as cursor:
        cursor.execute(HEAD)
        number, own, last, of_last = cursor.fetchone()
    if last is None and number == 0:
        return
    if (number, own and bytes(own)) != (last, of_last and bytes(of_last)):
        yield f"head: it says {number}, and the last entry is {last}, or their hashes differ."


def _checkpoints(folder: Path) -> tuple[list[Checkpoint], list[str]]:
    try:
        found = read_checkpoints(str(folder))
        for each in found:
            checkpoint_digest(each)
            bytes.fromhex("".join([each["signature"], each["root"], each["before"], *each["consistency"]]))
    except (KeyError, OSError, TypeError, ValueError) as error:
        return [], [f"checkpoints: a file in {folder} cannot be read: {error}."]
    return found, []


def _digest_in(detail: str) -> str:
    try:
        return str(json.loads(detail)["digest"])
    except (KeyError, TypeError, ValueError):
        return detail


def _missing_findings(checkpoints: list[Checkpoint], told: dict[str, int]) -> Iterator[str]:
    there = {checkpoint_digest(each) for each in checkpoints}
    for digest, number in told.items():
        if digest not in there:
            yield f"checkpoints: the one that entry {number} tells of is missing."
