"""Everything that can be wrong with the history, one sentence each; nothing is changed."""

import json
from collections.abc import Iterable, Iterator
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection

from keyctl.audit import signing
from keyctl.audit.checkpoints import ENTRIES, SIGNED
from keyctl.audit.entries import Entry, linked_entries
from keyctl.audit.guards import guard_findings
from keyctl.audit.verifier import checkpoint_digest, checkpoint_findings, history_findings, read_checkpoints

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


def check_history(key: bytes | None = None) -> Iterator[str]:
    """``key`` is the public key that somebody noted; without it that of the secrets folder counts."""
    yield from guard_findings(connection)
    yield from _head_findings()
    yield from (f"event {pk}: it is in no entry of the history." for pk in _column(UNLINKED))
    yield from (f"event {pk}: it is gone, and its subjects are there." for pk in _column(OF_NO_EVENT))
    checkpoints, trouble = _checkpoints()
    yield from trouble
    # Before the first signing there is no key yet, and nothing that it would check.
    own = key or (signing.public_key() if checkpoints else b"")
    yield from checkpoint_findings(checkpoints, own, signing.is_signed)
    told: dict[str, int] = {}
    try:
        yield from history_findings(_noting(linked_entries(connection), told), checkpoints)
    except DatabaseError as error:
        yield f"history: the database cannot read it: {error}."
    yield from _missing_findings(checkpoints, told)


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


def _checkpoints() -> tuple[list[Any], list[str]]:
    try:
        found = read_checkpoints(str(settings.CHECKPOINT_DIR))
        for each in found:
            checkpoint_digest(each)
            bytes.fromhex("".join([each["signature"], each["root"], each["before"], *each["consistency"]]))
    except (KeyError, OSError, TypeError, ValueError) as error:
        return [], [f"checkpoints: a file in {settings.CHECKPOINT_DIR} cannot be read: {error}."]
    return found, []


def _noting(entries: Iterable[Entry], told: dict[str, int]) -> Iterator[Entry]:
    """The entries as they are; on the way, what they tell of checkpoints."""
    number = 0
    for entry in entries:
        number = entry["number"]
        if entry["verb"] == SIGNED:
            told[_digest_in(entry["detail"])] = number
        yield entry
    told.setdefault("", number)


def _digest_in(detail: str) -> str:
    try:
        return str(json.loads(detail)["digest"])
    except (KeyError, TypeError, ValueError):
        return detail


def _missing_findings(checkpoints: list[Any], told: dict[str, int]) -> Iterator[str]:
    last = told.pop("", 0)
    there = {checkpoint_digest(each) for each in checkpoints}
    for digest, number in told.items():
        if digest not in there:
            yield f"checkpoints: the one that entry {number} tells of is missing."
    if not checkpoints and last >= ENTRIES:
        yield f"checkpoints: there is none in {settings.CHECKPOINT_DIR}, and there are {last} entries."
