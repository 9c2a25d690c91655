"""Events as entries of the chain, in the form that is hashed and exported.

They are read without Django's conversions: what was altered behind the program's back may be no date, no
UUID and no JSON any more, and must still be read to be found.
"""

import json
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any
from uuid import UUID

from django.db.backends.base.base import BaseDatabaseWrapper

from keyctl.audit.verifier import Step, entry_hash

Entry = dict[str, Any]
# By verb, the numbers and details of its entries.
Noted = dict[str, list[tuple[int, str]]]
BATCH = 2000
# As SQLite keeps an identifier.
_HEX = re.compile("[0-9a-f]{32}").fullmatch
# Below one, where no entry of ours is and one of somebody else might hide.
FIRST = -(2**63)

# SQLite's driver converts by the declared type of a column; an expression has none.
_MOMENT = {"sqlite": "CAST(e.at AS text)", "postgresql": "e.at"}
_COLUMNS = "e.id, {at}, e.actor_id, e.actor_name, e.site_id, e.verb, e.sentence, e.detail, {request}"
_EVENTS = "SELECT {columns} FROM audit_event e WHERE e.id IN ({ids}) ORDER BY e.id"
_SUBJECTS = "SELECT s.event_id, s.kind, s.subject_id FROM audit_eventsubject s WHERE s.event_id IN ({ids})"
_LINKS = "SELECT number, event_id, before, hash FROM audit_link WHERE number > %s ORDER BY number LIMIT %s"


def events_as_entries(
    connection: BaseDatabaseWrapper, ids: Sequence[int], request: str = "e.request"
) -> dict[int, Entry]:
    """Those of ``ids`` that are there, in the order of their identifiers."""
    marks = ", ".join(["%s"] * len(ids))
    columns = _COLUMNS.format(at=_MOMENT[connection.vendor], request=request)
    subjects = defaultdict(list)
    with connection.cursor() as cursor:
        cursor.execute(_EVENTS.format(columns=columns, ids=marks), ids)
        rows = cursor.fetchall()
        cursor.execute(_SUBJECTS.format(ids=marks), ids)
        for event, kind, subject in cursor.fetchall():
            subjects[event].append(f"{kind} {_uuid(subject)}")
    return {row[0]: as_entry(row, subjects[row[0]]) for row in rows}


def entries_without_requests(connection: BaseDatabaseWrapper, ids: Sequence[int]) -> dict[int, Entry]:
    """The same, for the migration that ran before events had that column."""
    return events_as_entries(connection, ids, "NULL")


def linked_entries(connection: BaseDatabaseWrapper, after: int = FIRST) -> Iterator[Entry]:
    """Every entry with its number and its hashes; one whose event is gone has empty fields."""
    for (number, _, before, own), fields in _linked(connection, after):
        yield {"number": _number(number), "before": _hex(before), "hash": _hex(own), **fields}


def linked_steps(connection: BaseDatabaseWrapper, after: int, noted: Noted) -> Iterator[Step]:
    """The same as places in the chain; what entries of a verb in ``noted`` say is noted there."""
    for (number, _, before, own), fields in _linked(connection, after):
        place, hash_before = _number(number), _bytes(before)
        if fields["verb"] in noted:
            noted[fields["verb"]].append((place, fields["detail"]))
        yield Step(place, hash_before, _bytes(own), entry_hash(hash_before, place, fields))


def _linked(connection: BaseDatabaseWrapper, after: int) -> Iterator[tuple[tuple[Any, ...], Entry]]:
    while links := _links_after(connection, after):
        events = events_as_entries(connection, [event for _, event, _, _ in links])
        for link in links:
            yield link, events.get(link[1]) or as_entry((link[1], *[None] * 8), [])
        after = links[-1][0]


def as_entry(row: Sequence[Any], subjects: Iterable[str]) -> Entry:
    pk, at, actor, actor_name, site, verb, sentence, detail, request = row
    return {
        "id": str(pk),
        "at": _moment(at),
        "actor": _uuid(actor),
        "actor_name": _text(actor_name),
        "site": _uuid(site),
        "verb": _text(verb),
        "sentence": _text(sentence),
        "detail": _json(detail),
        # None and empty are not the same, though neither is in the hash of the first form.
        "request": "" if request is None else _text(request or None),
        "subjects": sorted(subjects),
    }


def _links_after(connection: BaseDatabaseWrapper, after: int) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(_LINKS, [after, BATCH])
        return list(cursor.fetchall())


def _text(value: Any) -> str:
    """What is no text must not look like one that says the same."""
    return value if isinstance(value, str) else f"\0{value!r}"


def _number(value: Any) -> int:
    return value if isinstance(value, int) and value > 0 else 0


def _bytes(value: Any) -> bytes:
    return bytes(value) if isinstance(value, bytes | memoryview) else b""


def _hex(value: Any) -> str:
    return _bytes(value).hex()


def _moment(value: Any) -> str:
    try:
        moment = value if isinstance(value, datetime) else datetime.fromisoformat(value)
    except (TypeError, ValueError):
        return _text(value)
    if moment.tzinfo is None:
        return moment.isoformat(timespec="microseconds") + "+00:00"
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


def _uuid(value: Any) -> str:
    """Dashed, by whichever database; what is none stays as it is."""
    if value is None:
        return ""
    if isinstance(value, str):
        return _dashed(value)
    return str(value) if isinstance(value, UUID) else f"\0{value!r}"


@lru_cache(maxsize=65536)
def _dashed(text: str) -> str:
    if _HEX(text):
        return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"
    try:
        return str(UUID(text))
    except ValueError:
        return f"\0{text!r}"


# Made once for millions of values. Sorted by name, so that two databases give the same text.
_decode = json.JSONDecoder().decode
_encode = json.JSONEncoder(sort_keys=True, separators=(",", ":")).encode


def _json(value: Any) -> str:
    try:
        return "{}" if value == "{}" else _encode(_decode(value))
    except (TypeError, ValueError):
        return _text(value)
