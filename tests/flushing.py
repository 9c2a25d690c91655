"""What history refuses and tests must do: its triggers go, and come back.

The database is emptied after a test that commits, and rows change behind the product's back. The product has
no such way; `tests/keyctl/audit/test_guards.py` tries the triggers as migrations leave them.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

from django.db import transaction
from django.db.backends.base.operations import BaseDatabaseOperations

from keyctl.audit import guards

_empty = BaseDatabaseOperations.execute_sql_flush


def _empty_without_guards(operations: Any, statements: Any) -> None:
    with transaction.atomic():
        guards.remove(operations.connection)
        _empty(operations, statements)
        guards.install(operations.connection)
        _begin_the_feed(operations.connection)


def _begin_the_feed(connection: Any) -> None:
    """Triggers told of what was emptied; where that was the list itself, it lost its beginning."""
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM feed_change")
        cursor.execute("DELETE FROM feed_beginning")
        cursor.execute(
            "INSERT INTO feed_beginning (id, name, forgotten_up_to) VALUES (1, %s, 0)", [os.urandom(6).hex()]
        )


@contextmanager
def guards_lifted() -> Iterator[None]:
    with patch.object(BaseDatabaseOperations, "execute_sql_flush", _empty_without_guards):
        yield


def change_unguarded(sql: str, *values: Any) -> None:
    database = transaction.get_connection()
    guards.remove(database)
    with database.cursor() as cursor:
        cursor.execute(sql, values)
    guards.install(database)
