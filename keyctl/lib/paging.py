"""Many rows, a page at a time, for work that also writes or tells how far it is.

`QuerySet.iterator` keeps a statement open. On SQLite the connection then stands on the database as it was,
and may not write any more once another one wrote. Between two pages nothing is open.
"""

from collections.abc import Iterator
from typing import TypeVar

from django.db.models import Model, QuerySet

Row = TypeVar("Row", bound=Model)


def by_identifier(rows: QuerySet[Row], size: int) -> Iterator[Row]:
    """In order of their identifiers, whatever order they had."""
    ordered, after = rows.order_by("pk"), None
    while page := list((ordered if after is None else ordered.filter(pk__gt=after))[:size]):
        yield from page
        after = page[-1].pk


def as_ordered(rows: QuerySet[Row], size: int) -> Iterator[Row]:
    """In their own order, as it was when the first page was asked for."""
    wanted = list(rows.values_list("pk", flat=True))
    for start in range(0, len(wanted), size):
        yield from rows.filter(pk__in=wanted[start : start + size])
