"""Rows of a model that the database makes itself, from a row of numbers: one statement for any number of
them.

What a column holds is SQL over ``n``; a column that nobody names holds its field's default. So a column
that is added to a model is filled, and one that is gone is found out.
"""

from dataclasses import dataclass, field
from typing import Any

from django.db import connection, models

# Counted from zero, the first and the one after the last.
Span = tuple[int, int]


def key(kind: str, number: str) -> str:
    """The identifier of a thing by its number: told without looking, and as much without order as random
    ones.
    """
    return f"md5('{kind}' || ({number}))::uuid"


def tag(kind: str, number: str) -> str:
    """Twelve signs of the alphabet that tags are made of: sixteen digits stand for sixteen of its 27."""
    return (
        f"translate(substr(md5('{kind}-tag' || ({number})), 1, 12), '0123456789abcdef', '23456789BCDFGHJK')"
    )


def text(words: str) -> str:
    return "'" + words.replace("'", "''") + "'"


@dataclass(frozen=True)
class Rows:
    """``each``: so many rows for each door; the numbers run on over all doors."""

    model: Any
    each: float
    columns: dict[str, str] = field(default_factory=dict)
    where: str = ""

    @property
    def table(self) -> str:
        return str(self.model._meta.db_table)

    def statement(self) -> tuple[str, list[Any]]:
        """The SQL, whose last two parameters are the first and the last number."""
        fields = {field.column: field for field in self.model._meta.concrete_fields}
        if unknown := self.columns.keys() - fields.keys():
            raise ValueError(f"{self.table} has no column {', '.join(sorted(unknown))}")
        left = {
            name: field
            for name, field in fields.items()
            if name not in self.columns and not isinstance(field, models.AutoField)
        }
        defaults = [field.get_db_prep_save(field.get_default(), connection) for field in left.values()]
        names = ", ".join(f'"{name}"' for name in (*self.columns, *left))
        values = ", ".join((*self.columns.values(), *["%s"] * len(left)))
        where = f" WHERE {self.where}" if self.where else ""
        source = f"SELECT {values} FROM generate_series(%s::bigint, %s::bigint) n{where}"  # noqa: S608 (our own names)
        return f'INSERT INTO "{self.table}" ({names}) {source}', defaults

    def write(self, doors: Span) -> int:
        """Those that belong to these doors; returns how many."""
        first, end = (round(door * self.each) for door in doors)
        sql, defaults = self.statement()
        with connection.cursor() as cursor:
            cursor.execute(sql, [*defaults, first, end - 1])
            return int(cursor.rowcount)
