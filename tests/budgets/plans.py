"""How the database goes about a statement: which large tables it reads whole, and which indexes lead it."""

import re
from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import DatabaseError, connection, transaction

from tests.budgets.asking import Asked

LARGE = 10_000
SCAN = re.compile(r"^SCAN (\S+)(?: USING (?:COVERING )?INDEX (\S+))?")
INDEX = re.compile(
    r"USING (?:COVERING )?INDEX (\S+)|(?:Index|Index Only) Scan using (\S+)|Index Scan on (\S+)"
)


class Plans:
    def __init__(self) -> None:
        self.large = {
            model._meta.db_table for model in apps.get_models() if model._base_manager.count() > LARGE
        }
        self.seen: dict[str, list[str]] = {}
        self.used: set[str] = set()

    def whole_tables(self, asked: Asked) -> list[str]:
        """The large tables that a page has read whole, and by which index if by any."""
        found = (
            scan for sql, given in zip(asked.read, asked.given, strict=True) for scan in self._of(sql, given)
        )
        return sorted(set(found))

    def _of(self, sql: str, given: Any) -> list[str]:
        if sql not in self.seen:
            steps = list(_steps(sql, given))
            names = {name for step in steps for found in INDEX.findall(step) for name in found if name}
            self.used |= names
            self.seen[sql] = list(self._scans(sql, steps))
        return self.seen[sql]

    def _scans(self, sql: str, steps: list[str]) -> Iterator[str]:
        named = dict(re.findall(r'"(\w+)" "?([A-Z]\d+)"?', sql))
        alias = {short: table for table, short in named.items()}
        for step in steps:
            if connection.vendor == "postgresql":
                found = re.search(r"Seq Scan on (\S+)", step)
                table, by = (found[1], "") if found else ("", "")
            else:
                scan = SCAN.match(step)
                table, by = (scan[1], scan[2] or "") if scan else ("", "")
            table = alias.get(table, table)
            if table in self.large:
                yield f"{table} by {by}" if by else table


def _steps(sql: str, given: Any) -> Iterator[str]:
    way = "EXPLAIN QUERY PLAN " if connection.vendor == "sqlite" else "EXPLAIN "
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(way + sql, given)
            for row in cursor.fetchall():
                yield str(row[-1]).strip()
    except DatabaseError:
        return
