"""Reading a page from the middle of many rows without looking at all of them.

SQLite knows nothing of how much a condition lets through. Asked for fifty rows of the sites that a token
reaches, in the order of their ids, it gathers all of them and sorts: the page gets dearer with the estate.
Where many are reached it is quicker to walk along the ids and ask of each whether it is one; where few are,
to gather them. Which of the two it is, a look at so many rows at most tells.
"""

from typing import Any

from django.db import connection
from django.db.models import Exists, OuterRef, QuerySet

# Gathered and sorted in a moment; and of 100,000 rows one in a hundred, so that a walk soon finds a page.
MANY = 1000


def page_of(rows: QuerySet[Any], key: str, after: dict[str, Any], limit: int) -> QuerySet[Any]:
    """The first rows behind ``after`` in the order of the key, which is unique."""
    if connection.vendor != "sqlite":
        return rows.filter(**after).order_by(key)[:limit]
    wanted = rows.model._base_manager.filter(reached(rows)) if is_many(rows) else rows
    found = list(wanted.filter(**after).order_by(key).values_list("pk", flat=True)[:limit])
    return rows.filter(pk__in=found).order_by(key)


def reached(rows: QuerySet[Any]) -> Exists:
    """Asked of each row by itself, whether it is among these."""
    return Exists(rows.filter(pk=OuterRef("pk")))


def is_many(rows: QuerySet[Any]) -> bool:
    return bool(rows.order_by().values_list("pk")[MANY : MANY + 1])
