"""Events as entries of the chain, in the form that is hashed and exported.

They are read without Django's conversions: what was altered behind the program's back may be no date, no
UUID and no JSON any more, and must still be read to be found.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.db.backends.base.base import BaseDatabaseWrapper

Entry = dict[str, Any]
BATCH = 2000
# Below one, where no entry of ours is and one of somebody else might hide.
FIRST = -(2**63)

# SQLite's driver converts by the declared type of a column; an expression has none.
_MOMENT = {"sqlite": "CAST(e.at AS text)", "postgresql": "e.at"}
_COLUMNS = "e.id, {at}, e.actor_id, e.actor_name, e.site_id, e.verb, e.sentence, e.detail"
_EVENTS = "SELECT {columns} FROM audit_event e WHERE e.id IN ({ids}) ORDER BY e.id"
_SUBJECTS = "SELECT s.event_id, s.kind, s.subject_id FROM audit_eventsubject s WHERE s.event_id IN ({ids})"
_LINKS = "SELECT number, event_id, before, hash FROM audit_link WHERE number > %s ORDER BY number LIMIT %s"


def events_as_entries(connection: BaseDatabaseWrapper, ids: Sequence[int]) -> dict[int, Entry]:
    """Those of ``ids`` that are there, in the order of their identifiers."""
    marks = ", ".join(["%s"] * len(ids))
    columns = _COLUMNS.format(at=_MOMENT[connection.vendor])
    subjects = defaultdict(list)
    with connection.cursor() as cursor:
        cursor.execute(_EVENTS.format(columns=columns, ids=marks), ids)
        rows = cursor.fetchall()
        cursor.execute(_SUBJECTS.format(ids=marks), ids)
        for event, kind, subject in cursor.fetchall():
            subjects[event].append(f"{kind} {_uuid(subject)}")
    return {row[0]: as_entry(row, subjects[row[0]]) for row in rows}


def linked_entries(connection: BaseDatabaseWrapper, after: int = FIRST) -> Iterator[Entry]:
    """Every entry with its number and its hashes; one whose event is gone has empty fields."""
    while links := _links_after(connection, after):
        events = events_as_entries(connection, [event for _, event, _, _ in links])
        for number, event, before, own in links:
            fields = events.get(event) or as_entry((event, *[None] * 7), [])
            yield {"number": _number(number), "before": _hex(before), "hash": _hex(own), **fields}
        after = links[-1][0]


def as_entry(row: Sequence[Any], subjects: Iterable[str]) -> Entry:
    pk, at, actor, actor_name, site, verb, sentence, detail = row
    return {
        "id": str(pk),
        "at": _moment(at),
        "actor": _uuid(actor),
        "actor_name": _text(actor_name),
        "site": _uuid(site),
        "verb": _text(verb),
        "sentence": _text(sentence),
        "detail": _json(detail),
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


def _hex(value: Any) -> str:
    return bytes(value).hex() if isinstance(value, bytes | memoryview) else ""


def _moment(value: Any) -> str:
    try:
        moment = value if isinstance(value, datetime) else datetime.fromisoformat(value)
    except (TypeError, ValueError):
        return _text(value)
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return aware.astimezone(UTC).isoformat(timespec="microseconds")


def _uuid(value: Any) -> str:
    """Dashed, by whichever database; what is none stays as it is."""
    if value is None:
        return ""
    try:
        return str(value if isinstance(value, UUID) else UUID(value))
    except (AttributeError, TypeError, ValueError):
        return f"\0{value!r}"


def _json(value: Any) -> str:
    """Sorted by name, so that two databases give the same text."""
    try:
        return json.dumps(json.loads(value), sort_keys=True, separators=(",", ":"))
    except (TypeError, ValueError):
        return _text(value)
