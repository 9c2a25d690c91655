"""Rows that are held until the transaction ends, and the version that tells who was first.

Locked first, read afterwards: in one query PostgreSQL gives whoever had to wait what was joined to the row
before the wait.
"""

from functools import cache
from typing import Any, TypeVar

from django.db import connection
from django.db.models import Model, QuerySet

from keyctl.lib.prepared import Prepared, Slot

M = TypeVar("M", bound=Model)


def hold(rows: QuerySet[M]) -> None:
    """Lock the rows in a fixed order. Where only one transaction writes at a time there is nothing to ask."""
    if connection.features.has_select_for_update:
        list(rows.select_for_update().order_by("pk").values_list("pk"))


def hold_one(row: Model) -> None:
    """The same for a row that is known: what every swap begins with."""
    if connection.features.has_select_for_update:
        _one(type(row)).rows(pk=row.pk)


@cache
def _one(model: type[M]) -> Prepared[M, tuple[object]]:
    rows = model._default_manager
    return Prepared(lambda: rows.select_for_update().filter(pk=Slot("pk")).order_by().values_list("pk"))


def held(rows: QuerySet[M], pk: object) -> M:
    """The row as it is now, with whatever ``rows`` brings along."""
    rows.model._default_manager.select_for_update().get(pk=pk)
    return rows.get(pk=pk)


def save_next(row: Any, *fields: str) -> None:
    """As its next version, so that whoever looked at the last one is told."""
    row.version += 1
    row.save(update_fields=[*fields, "version"])
