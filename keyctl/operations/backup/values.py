"""Values of rows in a form that no database owns, so that what one kept another takes."""

import base64
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import models

Change = Callable[[Any], Any]


@dataclass(frozen=True)
class Kind:
    """What a column holds: its name in the file, how a value is written, and how it is read."""

    name: str
    written: Change | None = None
    read: Change | None = None


def _bytes(value: Any) -> str:
    return base64.b64encode(value).decode()


TEXT = Kind("text")
NUMBER = Kind("number")
TRUTH = Kind("truth")
JSON = Kind("json")
IDENTIFIER = Kind("identifier", lambda value: value.hex, UUID)
MOMENT = Kind("moment", datetime.isoformat, datetime.fromisoformat)
DAY = Kind("day", date.isoformat, date.fromisoformat)
BYTES = Kind("bytes", _bytes, base64.b64decode)
DECIMAL = Kind("decimal", str, Decimal)
SPAN = Kind(
    "span",
    lambda value: value // timedelta(microseconds=1),
    lambda number: timedelta(microseconds=number),
)

KINDS = {
    "CharField": TEXT,
    "TextField": TEXT,
    "SlugField": TEXT,
    "GenericIPAddressField": TEXT,
    "IntegerField": NUMBER,
    "SmallIntegerField": NUMBER,
    "BigIntegerField": NUMBER,
    "PositiveIntegerField": NUMBER,
    "PositiveSmallIntegerField": NUMBER,
    "PositiveBigIntegerField": NUMBER,
    "AutoField": NUMBER,
    "BigAutoField": NUMBER,
    "SmallAutoField": NUMBER,
    "FloatField": NUMBER,
    "BooleanField": TRUTH,
    "JSONField": JSON,
    "UUIDField": IDENTIFIER,
    "DateTimeField": MOMENT,
    "DateField": DAY,
    "BinaryField": BYTES,
    "DecimalField": DECIMAL,
    "DurationField": SPAN,
}


def kind_of(field: "models.Field[Any, Any]") -> Kind:
    """Raises ``KeyError`` for a type that nobody thought of yet."""
    while isinstance(field, models.ForeignKey):
        field = field.target_field
    return KINDS[field.get_internal_type()]
