"""Putting things at the end of the list, as they stand now. Inside triggers and for all at once.

Numbers never come twice: whatever takes the last row away has put a higher one there before.
"""

from collections.abc import Iterator
from typing import Final

from django.db.backends.base.base import BaseDatabaseWrapper

from keyctl.feed.kinds import KINDS, Kind

# Writers on PostgreSQL number what they changed as the last thing before they commit, under this lock: so the
# numbers come in the order of commits. On SQLite whoever writes is alone from its beginning.
LOCK: Final = "pg_advisory_xact_lock(19570901, 1)"
_NOW: Final = {"sqlite": "strftime('%Y-%m-%d %H:%M:%f', 'now')", "postgresql": "now()"}
_NO: Final = {"sqlite": "0", "postgresql": "FALSE"}
_YES: Final = {"sqlite": "1", "postgresql": "TRUE"}
_INTO: Final = "INSERT INTO feed_change (kind, thing, site, deleted, at)"


def lifted(vendor: str, kind: Kind, things: str, *, is_one: bool = False) -> str:
    """Those that are listed come to the end: all that is wanted where none moved. ``things`` is an SQL
    expression, or a question that gives identifiers; ``is_one``: of one thing, which has one site."""
    listed = _listed(vendor, kind, things)
    if vendor == "postgresql":
        return f"UPDATE feed_change SET sequence = nextval('feed_change_sequence_seq') WHERE {listed}"  # noqa: S608
    last = "(SELECT max(sequence) FROM feed_change)"
    if is_one:
        return f"UPDATE feed_change SET sequence = {last} + 1 WHERE {listed}"  # noqa: S608
    ranked = f"SELECT sequence AS old, {last} + row_number() OVER () AS new FROM feed_change WHERE {listed}"  # noqa: S608
    return f"UPDATE feed_change SET sequence = r.new FROM ({ranked}) r WHERE feed_change.sequence = r.old"  # noqa: S608


def relisted(vendor: str, kind: Kind, things: str) -> Iterator[str]:
    """The same for things that may have come, gone or moved to another site."""
    listed, there = _listed(vendor, kind, things), _there(kind, things)
    no, yes, now = _NO[vendor], _YES[vendor], _NOW[vendor]
    lost = f"{listed} AND NOT EXISTS ({there})"
    yield f"{_INTO} SELECT kind, thing, site, {yes}, {now} FROM feed_change WHERE {lost}"  # noqa: S608
    yield f"DELETE FROM feed_change WHERE {lost}"  # noqa: S608
    yield lifted(vendor, kind, things)
    gone = f"kind = '{kind.name}' AND thing IN ({things}) AND deleted = {yes}"
    yield f"DELETE FROM feed_change WHERE {gone} AND EXISTS ({there})"  # noqa: S608
    new = f"({kind.sites(things)}) s WHERE NOT EXISTS ({_match(vendor, kind)})"
    yield f"{_INTO} SELECT '{kind.name}', s.thing, s.site, {no}, {now} FROM {new}"  # noqa: S608


def _listed(vendor: str, kind: Kind, things: str) -> str:
    return f"kind = '{kind.name}' AND thing IN ({things}) AND deleted = {_NO[vendor]}"


def _there(kind: Kind, things: str) -> str:
    present = kind.sites(things)
    return f"SELECT 1 FROM ({present}) s WHERE s.thing = feed_change.thing AND s.site = feed_change.site"  # noqa: S608


def _match(vendor: str, kind: Kind) -> str:
    of_kind = f"c.kind = '{kind.name}' AND c.deleted = {_NO[vendor]}"
    return f"SELECT 1 FROM feed_change c WHERE c.thing = s.thing AND c.site = s.site AND {of_kind}"  # noqa: S608


def list_everything_again(connection: BaseDatabaseWrapper) -> None:
    """What may have changed while nobody looked: all that is there, and the end of what no longer is."""
    take_lock(connection)
    with connection.cursor() as cursor:
        for kind in KINDS.values():
            listed = f"SELECT thing FROM feed_change WHERE kind = '{kind.name}'"  # noqa: S608
            for statement in relisted(
                connection.vendor,
                kind,
                f"SELECT id FROM {kind.table} UNION {listed}",  # noqa: S608
            ):
                cursor.execute(statement)


def take_lock(connection: BaseDatabaseWrapper) -> None:
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT {LOCK}")
