"""Many rows, a page at a time, for work that also writes or tells how far it is.

`QuerySet.iterator` keeps a statement open. On SQLite the connection then stands on the database as it was,
and may not write any more once another one wrote. Between two pages nothing is open.
"""

from collections.abc import Iterator
from itertools import chain
from typing import TypeVar

from django.db.models import Model, QuerySet

Row = TypeVar("Row", bound=Model)


def pages_by_identifier(rows: QuerySet[Row], size: int) -> Iterator[list[Row]]:
    """In order of their identifiers, whatever order they had."""
    rows = rest = rows.order_by("pk")
    while page := list(rest[:size]):
        yield page
        rest = rows.filter(pk__gt=page[-1].pk)


def by_identifier(rows: QuerySet[Row], size: int) -> Iterator[Row]:
    return chain.from_iterable(pages_by_identifier(rows, size))


def as_ordered(rows: QuerySet[Row], size: int) -> Iterator[Row]:
    """In their own order, as it was when the first page was asked for."""
    wanted = list(rows.values_list("pk", flat=True))
    for start in range(0, len(wanted), size):
        yield from rows.filter(pk__in=wanted[start : start + size])
