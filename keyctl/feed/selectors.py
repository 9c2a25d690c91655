"""A page of what changed since.

Rows are read by number alone and held against sites and kinds here: a page costs the same at either end of
the list, on either database, and nothing depends on what a planner thinks of the rows of others.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final
from uuid import UUID

from django.db.models import Max

from keyctl.feed.models import Beginning, Change

# So many rows of others are passed over for one page; it may then be shorter than asked, or empty.
MOST_LOOKED_AT: Final = 20_000
FIRST_LOOK, LONGEST_LOOK = 256, 4_096
CURSOR: Final = re.compile(r"([0-9a-f]{12})-([0-9a-f]{8})-([0-9]{1,18})-([0-9]{1,18})")


class NoCursor(Exception):
    """It is not of the form that we give out."""


class BeginAnew(Exception):
    """What the reader knows cannot be brought up to date row by row."""


@dataclass(frozen=True)
class Reach:
    """Which things a reader is told of."""

    sites: frozenset[UUID]
    kinds: frozenset[str]

    @property
    def mark(self) -> str:
        """Another as soon as the reader is told of others: rows before its place would be missing."""
        words = [*sorted(map(str, self.sites)), *sorted(self.kinds)]
        return hashlib.sha256(" ".join(words).encode()).hexdigest()[:8]


@dataclass(frozen=True)
class Cursor:
    """After which number a page begins. ``began``: the last one when the reader began with nothing; what was
    gone by then it need not know."""

    beginning: str
    mark: str
    sequence: int
    began: int

    @classmethod
    def read(cls, text: str) -> "Cursor":
        found = CURSOR.fullmatch(text)
        if found is None:
            raise NoCursor
        return cls(found[1], found[2], int(found[3]), int(found[4]))

    def __str__(self) -> str:
        return f"{self.beginning}-{self.mark}-{self.sequence}-{self.began}"


@dataclass(frozen=True)
class Listed:
    sequence: int
    kind: str
    id: UUID
    site: UUID
    deleted: bool


@dataclass(frozen=True)
class Page:
    rows: list[Listed]
    cursor: Cursor
    # Whether rows of others or of the reader come after it.
    has_more: bool


def changes_since(reach: Reach, since: str, limit: int) -> Page:
    """``since`` is a cursor, or empty for all that is there. Raises ``NoCursor`` and ``BeginAnew``."""
    cursor, last = _placed(reach, since)
    kept, place, is_last = _pick(reach, cursor, limit)
    is_known = cursor.began <= place
    after = Cursor(cursor.beginning, cursor.mark, place, 0 if is_known else cursor.began)
    return Page(list(_newest(reach, kept)), after, not is_last and place < last)


def _placed(reach: Reach, since: str) -> tuple[Cursor, int]:
    beginning = Beginning.objects.get()
    last = Change.objects.aggregate(last=Max("sequence"))["last"] or 0
    if not since:
        return Cursor(beginning.name, reach.mark, 0, last), last
    cursor = Cursor.read(since)
    is_ours = (cursor.beginning, cursor.mark) == (beginning.name, reach.mark)
    if not is_ours or max(cursor.sequence, cursor.began) < beginning.forgotten_up_to:
        raise BeginAnew
    return cursor, last


def _pick(reach: Reach, cursor: Cursor, limit: int) -> tuple[list[Listed], int, bool]:
    """The rows for the reader, the number up to which was looked, and whether that is the end."""
    kept: list[Listed] = []
    place, looked_at, size = cursor.sequence, 0, max(FIRST_LOOK, limit + 1)
    while looked_at < MOST_LOOKED_AT:
        rows = _rows_after(place, size)
        for row in rows:
            if len(kept) == limit:
                return kept, place, False
            place = row.sequence
            if _is_for(reach, cursor, row):
                kept.append(row)
        if len(rows) < size:
            return kept, place, True
        looked_at, size = looked_at + size, min(size * 2, LONGEST_LOOK)
    return kept, place, False


def _rows_after(place: int, size: int) -> list[Listed]:
    rows = Change.objects.filter(sequence__gt=place).order_by("sequence")
    names = ("sequence", "kind", "thing", "site", "deleted")
    return [Listed(*row) for row in rows.values_list(*names)[:size]]


def _is_for(reach: Reach, cursor: Cursor, row: Listed) -> bool:
    if row.deleted and row.sequence <= cursor.began:
        return False
    return row.site in reach.sites and row.kind in reach.kinds


def _newest(reach: Reach, rows: Iterable[Listed]) -> Iterator[Listed]:
    """A thing of several sites of the reader is listed once, where it changed last; gone where it is at none.

    Of one that changed while the page was read the newer row comes later; it is not on this page then.
    """
    kept = list(rows)
    places: dict[tuple[str, UUID], list[tuple[int, UUID, bool]]] = {}
    names = ("kind", "thing", "sequence", "site", "deleted")
    found = Change.objects.filter(thing__in={row.id for row in kept}).values_list(*names)
    for kind, thing, sequence, site, deleted in found:
        if site in reach.sites:
            places.setdefault((kind, thing), []).append((sequence, site, deleted))
    for row in kept:
        here = places.get((row.kind, row.id), [])
        if here and row.sequence == max(sequence for sequence, *_ in here):
            sites = [site for _, site, deleted in sorted(here, reverse=True) if not deleted]
            yield Listed(row.sequence, row.kind, row.id, sites[0] if sites else row.site, not sites)
