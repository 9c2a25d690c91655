"""What a table may hold once: read from its constraints, in a form that a row can be asked about."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.db import models
from django.db.models import F, Q
from django.db.models.expressions import Combinable

Field = models.Field[Any, Any]


@dataclass(frozen=True)
class Unique:
    """``changed`` is the member that a copy gives another value; none where all say what they belong to."""

    fields: tuple[Field, ...]
    condition: Q | None
    changed: Field | None

    def holds(self, row: models.Model) -> bool:
        """Whether the constraint says anything of this row."""
        if any(getattr(row, field.attname) is None for field in self.fields):
            return False
        return self.condition is None or _is_true(row, self.condition)


@cache
def uniques(model: type[models.Model]) -> tuple[Unique, ...]:
    return tuple(_read(model))


def _read(model: type[models.Model]) -> Iterator[Unique]:
    meta = model._meta
    for field in meta.concrete_fields:
        if field.unique and not field.primary_key:
            yield _unique([field], None)
    for names in meta.unique_together:
        yield _unique([meta.get_field(name) for name in names], None)
    for constraint in meta.constraints:
        if isinstance(constraint, models.UniqueConstraint):
            names = (*constraint.fields, *(name for each in constraint.expressions for name in _names(each)))
            yield _unique([meta.get_field(name) for name in names], constraint.condition)


def _names(expression: Any) -> Iterator[str]:
    if isinstance(expression, F):
        yield expression.name  # type: ignore[attr-defined]  # which the checker's description forgets
    elif isinstance(expression, Combinable):
        for inner in expression.get_source_expressions():  # type: ignore[attr-defined]
            yield from _names(inner)


def _unique(fields: list[Any], condition: Q | None) -> Unique:
    own = [field for field in fields if _can_change(field)]
    return Unique(tuple(fields), condition, own[-1] if own else None)


def _can_change(field: Field) -> bool:
    """A number or a text that is not chosen from a few."""
    if field.remote_field or field.choices:
        return False
    return isinstance(field, models.CharField | models.TextField | models.IntegerField | models.BinaryField)


def _is_true(row: models.Model, condition: Q) -> bool:
    told = [_part(row, part) for part in condition.children]
    found = any(told) if condition.connector == Q.OR else all(told)
    return found != condition.negated


def _part(row: models.Model, part: Any) -> bool:
    if isinstance(part, Q):
        return _is_true(row, part)
    name, wanted = part
    name, _, way = name.partition("__")
    value = getattr(row, row._meta.get_field(name).attname)  # type: ignore[union-attr]
    if way == "isnull":
        return bool((value is None) == wanted)
    if way == "in":
        return bool(value in wanted)
    if way not in {"", "exact"}:
        raise ValueError(f"{row._meta.label}: the condition {part} wants to be read here")
    return bool(value == wanted)
