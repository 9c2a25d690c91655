"""Statements of a fixed form, made into SQL once and asked again with other values.

Django writes the SQL of a statement anew each time, which takes it several times as long as the database
takes to answer by an index. What every request and every swap asks is written here once for each kind of
database; the answer is read by Django itself, as rows, values or models.

    ROLES = Prepared(lambda: Membership.objects.filter(user=Slot("user")).values_list("role", flat=True))
    ROLES.rows(user=actor.pk)
"""

from collections.abc import Callable
from copy import copy
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, TypeVar
from uuid import UUID

from django.db import connections, router, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model, QuerySet, UUIDField, Value
from django.db.models.sql import Query, UpdateQuery
from django.db.models.sql.compiler import SQLCompiler
from django.db.models.sql.constants import ROW_COUNT, SINGLE

M = TypeVar("M", bound=Model)
Row = TypeVar("Row")
_UUIDS: "UUIDField[Any, Any]" = UUIDField()


class Slot(Value):
    """The place of a value that is named when the statement is asked."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.name = name

    def as_sql(self, *_to: Any) -> Any:
        return "%s", [self]


@dataclass(frozen=True)
class _Written:
    """The SQL, and the compiler that knows how its answer is read."""

    sql: str
    params: tuple[Any, ...]
    compiler: SQLCompiler
    # How the columns of an answer become values of Python: what Django would look up for each answer anew.
    converters: dict[int, Any]

    @classmethod
    def of(cls, query: Query, connection: BaseDatabaseWrapper) -> "_Written":
        compiler = query.clone().get_compiler(connection=connection)
        sql, params = compiler.as_sql()
        read = [column for column, *_ in compiler.select or ()]
        return cls(sql, tuple(params), compiler, compiler.get_converters(read))

    def asked(self, connection: BaseDatabaseWrapper, values: dict[str, Any]) -> Any:
        told = {name: _adapted(connection, value) for name, value in values.items()}
        params = tuple(told[each.name] if isinstance(each, Slot) else each for each in self.params)
        asking = copy(self.compiler)
        asking.connection, asking.using = connection, connection.alias
        _replace(asking, "as_sql", (self.sql, params))
        _replace(asking, "get_converters", self.converters)
        return asking


class Prepared(Generic[M, Row]):
    def __init__(self, make: Callable[[], "QuerySet[M, Row]"]) -> None:
        """``make`` is called when it is first asked: not before all models are there."""
        self._make = make
        self._made: QuerySet[M, Row] | None = None
        self._written: dict[tuple[str, bool], _Written] = {}

    def rows(self, **values: Any) -> list[Row]:
        """A value for each slot; the whole answer."""
        made = self._rows()
        asking = self._asking(made, values, is_whether=False)
        query = copy(made.query)
        _replace(query, "get_compiler", asking)
        read: Any = made._iterable_class
        return list(read(type(made)(made.model, query, made.db)))

    def first(self, **values: Any) -> Row | None:
        """The first of the rows; where many may come, the query itself says how many it wants."""
        return next(iter(self.rows(**values)), None)

    def exists(self, **values: Any) -> bool:
        return bool(self._asking(self._rows(), values, is_whether=True).execute_sql(SINGLE))

    def _rows(self) -> "QuerySet[M, Row]":
        if self._made is None:
            self._made = self._make()
        return self._made

    def _asking(self, made: "QuerySet[M, Row]", values: dict[str, Any], *, is_whether: bool) -> Any:
        connection = connections[made.db]
        kept = self._written.get((connection.vendor, is_whether))
        if kept is None:
            kept = _Written.of(made.query.exists() if is_whether else made.query, connection)
            self._written[connection.vendor, is_whether] = kept
        if made.query.select_for_update and connection.features.has_select_for_update:
            _refuse_outside(connection)
        return kept.asked(connection, values)


class PreparedUpdate(Generic[M]):
    """``facts`` say what the rows are set to: slots, or what is made of them."""

    def __init__(self, make: Callable[[], "QuerySet[M, M]"], **facts: Any) -> None:
        self._make, self._facts = make, facts
        self._written: dict[str, _Written] = {}

    def update(self, **values: Any) -> int:
        """How many rows there were."""
        connection = connections[router.db_for_write(Model)]
        kept = self._written.get(connection.vendor)
        if kept is None:
            query: Any = self._make().query.chain(UpdateQuery)
            query.add_update_values(self._facts)
            kept = self._written[connection.vendor] = _Written.of(query, connection)
        return int(kept.asked(connection, values).execute_sql(ROW_COUNT))


def _replace(thing: object, method: str, answer: object) -> None:
    setattr(thing, method, lambda *_, **__: answer)


def _refuse_outside(connection: BaseDatabaseWrapper) -> None:
    """A lock that nobody's transaction would hold: Django says so where it writes the SQL."""
    if connection.get_autocommit():
        raise transaction.TransactionManagementError("A lock is taken in a transaction only.")


def _adapted(connection: BaseDatabaseWrapper, value: Any) -> Any:
    """As the database keeps it."""
    if isinstance(value, UUID):
        return _UUIDS.get_db_prep_value(value, connection)
    if isinstance(value, datetime):
        return connection.ops.adapt_datetimefield_value(value)
    return value
