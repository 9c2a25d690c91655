"""New rows without the way around: what every swap writes, in SQL that is made once for each model.

Django's ``save`` looks for parents, defaults of the database and signals, none of which these models have,
and writes its SQL anew each time.
"""

from functools import cache

from django.db import connections, router
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import AutoField, Field, Model


def insert(row: Model) -> None:
    """Like ``save(force_insert=True)``; a number that the database gives is on the row afterwards."""
    connection = connections[router.db_for_write(type(row), instance=row)]
    is_numbered = isinstance(row._meta.pk, AutoField)
    values = [
        field.get_db_prep_save(field.pre_save(row, add=True), connection) for field in _fields(type(row))
    ]
    with connection.cursor() as cursor:
        cursor.execute(_sql(type(row), connection.vendor), values)
        if is_numbered:
            (row.pk,) = cursor.fetchone()
    row._state.adding, row._state.db = False, connection.alias


@cache
def _fields(model: type[Model]) -> tuple["Field[object, object]", ...]:
    given = tuple(field for field in model._meta.concrete_fields if not isinstance(field, AutoField))
    if model._meta.parents or any(field.has_db_default() or field.generated for field in given):
        raise TypeError(f"{model._meta.label} is more than a row of plain values: save() writes it.")
    return given


@cache
def _sql(model: type[Model], vendor: str) -> str:
    connection: BaseDatabaseWrapper = next(each for each in connections.all() if each.vendor == vendor)
    quoted = connection.ops.quote_name
    names = ", ".join(quoted(str(field.column)) for field in _fields(model))
    marks = ", ".join(["%s"] * len(_fields(model)))
    told = f" RETURNING {quoted(str(model._meta.pk.column))}" if isinstance(model._meta.pk, AutoField) else ""
    return f"INSERT INTO {quoted(model._meta.db_table)} ({names}) VALUES ({marks}){told}"  # noqa: S608
