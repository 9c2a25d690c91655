"""A row for each table that no scene fills: what its columns take, drawn until the database takes it."""

import random
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import DatabaseError, connection, models, transaction

from keyctl.vault import services as vault
from keyctl.vault.fields import SealedField

TRIES = 60
WORD = "invented"
MOMENT = datetime(2026, 11, 27, 12, tzinfo=UTC)

# By the class of a column; the first that fits.
VALUES: tuple[tuple[Any, Callable[[random.Random], Any]], ...] = (
    (models.UUIDField, lambda chance: UUID(int=chance.getrandbits(128), version=4)),
    (models.BooleanField, lambda chance: chance.random() < 0.5),
    (models.DecimalField, lambda chance: Decimal(chance.randint(1, 3))),
    (models.FloatField, lambda _: 1.0),
    (models.IntegerField, lambda chance: chance.randint(0, 3)),
    (models.DateTimeField, lambda chance: MOMENT + timedelta(days=chance.randint(0, 9))),
    (models.DateField, lambda _: date(2026, 11, 27)),
    (models.DurationField, lambda _: None),
    (models.JSONField, lambda chance: chance.choice([{}, []])),
    (models.BinaryField, lambda _: WORD.encode()),
    (models.GenericIPAddressField, lambda _: "192.0.2.1"),
    (models.TextField, lambda _: WORD),
    (models.CharField, lambda chance: f"{WORD}{chance.randint(0, 99)}"),
)


def fill_empty_tables(seed: int = 1) -> None:
    """As far as one is found: a row may need one of another table of these."""
    chance = random.Random(seed)
    for _ in range(3):
        for model in _empty():
            _fill(model, chance)


def empty_tables() -> list[str]:
    return sorted(model._meta.db_table for model in _empty())


def _empty() -> list[type[models.Model]]:
    return [model for model in _models() if not model._base_manager.exists()]


def _models() -> list[type[models.Model]]:
    found = apps.get_models(include_auto_created=True)
    return [model for model in found if model._meta.managed and not model._meta.proxy]


def _fill(model: type[models.Model], chance: random.Random) -> None:
    for _ in range(TRIES):
        try:
            with transaction.atomic():
                _add_row(model, chance)
            return
        except (DatabaseError, LookupError, TypeError, ValueError):
            continue


def _add_row(model: type[models.Model], chance: random.Random) -> None:
    row = model()
    sealed = []
    for column in model._meta.concrete_fields:
        if isinstance(column, SealedField):
            sealed.append(column.name)
        elif not isinstance(column, models.AutoField):
            setattr(row, column.attname, _value(column, chance))
    for name in sealed:
        setattr(row, name, vault.seal(row, name, WORD))
    model._base_manager.bulk_create([row])
    if connection.vendor == "postgresql":
        # Now, and not at the end, where it would take everything along.
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def _value(column: "models.Field[Any, Any]", chance: random.Random) -> Any:
    if isinstance(column, models.ForeignKey):
        return _of_another(column, chance)
    if column.null and chance.random() < 0.5:
        return None
    if column.has_default() and chance.random() < 0.7:
        return column.get_default()
    if column.choices:
        return chance.choice([value for value, _ in column.flatchoices])
    if column.blank and isinstance(column, models.CharField) and chance.random() < 0.5:
        return ""
    draw = next(draw for kind, draw in VALUES if isinstance(column, kind))
    value = draw(chance)
    return value[: column.max_length] if isinstance(value, str) else value


def _of_another(column: "models.ForeignKey[Any, Any]", chance: random.Random) -> Any:
    if column.null and chance.random() < 0.5:
        return None
    found = list(column.related_model._base_manager.values_list(column.target_field.attname, flat=True)[:20])
    return chance.choice(found)
