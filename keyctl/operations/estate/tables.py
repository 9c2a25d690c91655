"""Laws that every table has: its constraints are in the database and hold, and what it points at is there.

The constraints are asked as questions over the rows: one that was lifted for a while, or that a row slipped
past, is found by its breach, not by the database's word.
"""

import re
from collections.abc import Iterator
from typing import Any

from django.db import connection, models
from django.db.models import Count, Exists, OuterRef, Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_noop

from keyctl.lib.retold import kept_text
from keyctl.operations.backup.tables import all_tables
from keyctl.operations.backup.trying import unsound_pages

Model = type[models.Model]

# Django's own introspection parses every table, which takes seconds.
NAMED_ON = {
    "sqlite": "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND type IN ('table', 'index')",
    "postgresql": """
        SELECT conname::text FROM pg_constraint WHERE connamespace = current_schema()::regnamespace
        UNION SELECT indexname::text FROM pg_indexes WHERE schemaname = current_schema()
    """,
}
NAMES = re.compile(r'(?:(?:^CREATE UNIQUE INDEX|CONSTRAINT) "([^"]+)")|(?:^(\w+)$)')
LOST_CONSTRAINT = kept_text(gettext_noop("{table} has lost its constraint {name}."))
UNSOUND = kept_text(gettext_noop("The database file: {words}."))
FORBIDDEN = kept_text(gettext_noop("{table} {pk}: forbidden by {name}."))
REPEATED = kept_text(gettext_noop("{table} {pk}: {number} rows where {name} allows one."))
UNIQUE = kept_text(gettext_noop("the unique {fields}"))
DANGLING = kept_text(gettext_noop("{table} {pk}: its {field} is not there."))


def broken_constraints() -> Iterator[str]:
    """A sentence for each row, or group of rows, that a named constraint forbids."""
    for model in _models():
        for constraint in model._meta.constraints:
            if isinstance(constraint, models.CheckConstraint):
                yield from _forbidden(model, constraint)
            elif isinstance(constraint, models.UniqueConstraint):
                yield from _repeated(model, constraint.name, constraint.fields, constraint.condition)
        yield from _repeated_fields(model)


def missing_constraints() -> Iterator[str]:
    """Named in the program and not there in the database."""
    with connection.cursor() as cursor:
        cursor.execute(NAMED_ON[connection.vendor])
        there = {name for (text,) in cursor.fetchall() for found in NAMES.findall(text) for name in found}
    for model in _models():
        for constraint in model._meta.constraints:
            if constraint.name not in there:
                yield LOST_CONSTRAINT.format(table=model._meta.db_table, name=constraint.name)


def dangling_references() -> Iterator[str]:
    """A row that points at a row that is not there."""
    for model in _models():
        for field in model._meta.concrete_fields:
            if isinstance(field, models.ForeignKey):
                yield from _dangling(model, field)


def unsound_file() -> Iterator[str]:
    yield from (UNSOUND.format(words=words) for words in unsound_pages(connection))


def _models() -> Iterator[Model]:
    for table in all_tables():
        yield table.model


def _forbidden(model: Model, constraint: models.CheckConstraint) -> Iterator[str]:
    # As a database sees it: what is unknown is not forbidden.
    kept = Coalesce(Q(constraint.condition), True, output_field=models.BooleanField())
    rows = model._base_manager.alias(is_kept=kept).filter(is_kept=False).order_by("pk")
    for pk in rows.values_list("pk", flat=True).iterator():
        yield FORBIDDEN.format(table=model._meta.db_table, pk=pk, name=constraint.name)


def _repeated(model: Model, name: str, fields: Any, condition: Q | None) -> Iterator[str]:
    """Rows that are the same where no two may be; empty ones are never the same."""
    rows = model._base_manager.filter(condition) if condition else model._base_manager.all()
    rows = rows.filter(**{f"{field}__isnull": False for field in fields})
    groups = rows.order_by().values(*fields).annotate(number_of_rows=Count("pk"))
    for group in groups.filter(number_of_rows__gt=1).iterator():
        # The row is named and not what it holds: a name may stand in it.
        pk = rows.filter(**{field: group[field] for field in fields}).order_by("pk").values_list("pk").first()
        number = group["number_of_rows"]
        yield REPEATED.format(table=model._meta.db_table, pk=pk and pk[0], number=number, name=name)


def _repeated_fields(model: Model) -> Iterator[str]:
    for field in model._meta.concrete_fields:
        if field.unique:
            yield from _repeated(model, UNIQUE.format(fields=field.name), [field.name], None)
    for fields in model._meta.unique_together:
        yield from _repeated(model, UNIQUE.format(fields=", ".join(fields)), fields, None)


def _dangling(model: Model, field: "models.ForeignKey[Any, Any]") -> Iterator[str]:
    target = field.target_field
    there = field.related_model._base_manager.filter(**{target.attname: OuterRef(field.attname)})
    rows = model._base_manager.filter(~Exists(there), **{f"{field.attname}__isnull": False})
    for pk in rows.order_by("pk").values_list("pk", flat=True).iterator():
        yield DANGLING.format(table=model._meta.db_table, pk=pk, field=field.name)
