"""A program that keeps a copy of what it is told of, page by page, as the manual says."""

from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db import connection

from keyctl.feed.kinds import KINDS
from keyctl.feed.selectors import Reach, changes_since
from keyctl.places.models import Site


@dataclass
class Reader:
    sites: list[Site]
    kinds: frozenset[str] = frozenset(KINDS)
    limit: int = 50
    cursor: str = ""
    known: set[tuple[str, UUID]] = field(default_factory=set)
    numbers: list[int] = field(default_factory=list)

    def read_on(self) -> list[tuple[str, UUID, bool]]:
        """Every page there is; what came, and the copy brought up to date."""
        number_what_waits()
        came: list[tuple[str, UUID, bool]] = []
        while True:
            page = self.read_page()
            came += [(row.kind, row.id, row.deleted) for row in page.rows]
            if not page.has_more:
                return came

    def read_page(self) -> Any:
        reach = Reach(frozenset(site.pk for site in self.sites), self.kinds)
        page = changes_since(reach, self.cursor, self.limit)
        self.cursor = str(page.cursor)
        for row in page.rows:
            (self.known.discard if row.deleted else self.known.add)((row.kind, row.id))
            self.numbers.append(row.sequence)
        return page


def number_what_waits() -> None:
    """On PostgreSQL a test's own transaction never commits; what is due then is done here."""
    if connection.vendor == "postgresql" and connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE; SET CONSTRAINTS ALL DEFERRED")
