"""A row as it is: a digest of all of it, and the fields that an act touches, plainly and in words."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Model
from django.utils.translation import gettext as _

from keyctl.lib.days import day
from keyctl.lib.moments import said

LONGEST_WORD = 120


def digest(row: Model) -> str:
    """Of every column. Of what is sealed only the sealed bytes go in, and a digest tells nothing of them."""
    values = {name: _plain(getattr(row, name)) for name in _columns(row)}
    return hashlib.sha256(json.dumps(values, sort_keys=True).encode()).hexdigest()


def facts_of(row: Model, fields: Iterable[str]) -> dict[str, Any]:
    return {name: _plain(getattr(row, row._meta.get_field(name).attname)) for name in fields}  # type: ignore[union-attr]


def words_of(row: Model, fields: Iterable[str]) -> dict[str, str]:
    return {name: _word(row, name)[:LONGEST_WORD] for name in fields}


def as_before(model: type[Model], kept: Mapping[str, Any]) -> dict[str, Any]:
    """What was kept of the fields, as the model has it: of another row its identifier."""
    return {name: model._meta.get_field(name).to_python(value) for name, value in kept.items()}  # type: ignore[union-attr]


def _columns(row: Model) -> list[str]:
    return [field.attname for field in row._meta.concrete_fields]


def _plain(value: Any) -> Any:
    if isinstance(value, bytes | bytearray | memoryview):
        return bytes(value).hex()
    return json.loads(json.dumps(value, cls=DjangoJSONEncoder))


def _word(row: Model, name: str) -> str:
    value = getattr(row, name)
    if shown := getattr(row, f"get_{name}_display", None):
        return str(shown())
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, datetime):
        return said(value)
    if isinstance(value, date):
        return day(value)
    return "–" if value in {None, ""} else str(value)
