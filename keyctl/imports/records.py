"""A thing that imports write: rows of one table, read, made, changed and taken away again in bulk.

What the database says of the table is read from its model: which values may stand there once only, and what
points at a row.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import connection, models
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from keyctl.accounts.models import User
from keyctl.imports.models import Import
from keyctl.lib.language import Text
from keyctl.lib.standing import relations_to
from keyctl.vault.fields import SealedField

Values = dict[str, Any]
LONGEST_WORD = 120
# Of columns, so many a statement: the text of a bulk update grows with rows times columns.
AT_ONCE = 200


@dataclass(frozen=True)
class Deed:
    """In whose name and for which import something is written."""

    actor: User
    imported: Import


@dataclass
class Written:
    """Rows that a rule refused, with its sentence; and rows that got another identifier than was planned."""

    refused: dict[UUID, str] = field(default_factory=dict)
    other: dict[UUID, UUID] = field(default_factory=dict)


@dataclass(frozen=True)
class Records:
    """``words`` are what people call the columns; those without are not told. ``parts`` are rows of other
    tables ("app.Model") that go with a row of this one."""

    name: str
    label: Text
    model: type[models.Model]
    words: Mapping[str, Text] = field(default_factory=dict)
    parts: tuple[str, ...] = ()

    def states(self, pks: Iterable[UUID]) -> dict[UUID, Values]:
        """The rows as they are, whole; of sealed values only whether there is one."""
        rows = self._rows(pks).order_by().values(*self._columns)
        found = {row["id"]: {name: plain(value) for name, value in row.items()} for row in rows}
        for many in self.model._meta.many_to_many:
            for values in found.values():
                values[many.name] = []
            for pk, other in self._pairs(many, found):
                found[pk][many.name].append(str(other))
            for values in found.values():
                values[many.name].sort()
        return found

    def hold(self, pks: Iterable[UUID]) -> None:
        """Lock the rows in a fixed order; where one transaction writes at a time there is nothing to ask."""
        if connection.features.has_select_for_update:
            list(self._rows(pks).select_for_update().order_by("pk").values_list("pk"))

    def clashes(self, wanted: Mapping[UUID, Values]) -> dict[UUID, str]:
        """Rows that cannot be written: another row has their values, or what they stand on is not there."""
        found: dict[UUID, str] = {}
        for constraint in self.model._meta.constraints:
            if isinstance(constraint, models.UniqueConstraint) and constraint.fields:
                # Where it holds for some rows only, an empty value is what it leaves out.
                free = (None, "") if constraint.condition else (None,)
                found |= self._taken([self._attname(name) for name in constraint.fields], free, wanted)
        return found | self._astray(wanted)

    def create(self, _deed: Deed, rows: Mapping[UUID, Values]) -> Written:
        many = {each.name for each in self.model._meta.many_to_many}
        self.model._base_manager.bulk_create(
            self.model(pk=pk, **{name: self._python(name, values[name]) for name in values.keys() - many})
            for pk, values in rows.items()
        )
        self._set_many(rows)
        return Written()

    def change(self, _deed: Deed, rows: Mapping[UUID, Values]) -> Written:
        columns = {field.attname for field in self.model._meta.concrete_fields}
        found: dict[Any, models.Model] = self.model._base_manager.in_bulk(list(rows))
        changed: set[str] = set()
        for pk, values in rows.items():
            for name in values.keys() & columns:
                setattr(found[pk], name, self._python(name, values[name]))
                changed.add(self._field(name).name)
        if changed:
            objects = [found[pk] for pk in rows]
            self.model._base_manager.bulk_update(objects, sorted(changed), batch_size=AT_ONCE)
        self._set_many(rows)
        return Written()

    def restore(self, deed: Deed, rows: Mapping[UUID, Values]) -> None:
        """Set back what stood there before."""
        self.change(deed, rows)

    def remove(self, _deed: Deed, pks: Sequence[UUID]) -> None:
        self.model._base_manager.filter(pk__in=pks).delete()

    def built_upon(self, pks: Sequence[UUID]) -> dict[UUID, str]:
        """What points at the rows, but for their own parts and each other."""
        found: dict[UUID, str] = {}
        for relation in relations_to(self.model):
            table, column = _pointing(relation)
            if table._meta.label not in self.parts and pks:
                rows = table._base_manager.filter(**{f"{column}__in": pks}).order_by()
                rows = rows.exclude(pk__in=pks) if table is self.model else rows
                name = str(relation.related_model._meta.verbose_name)
                found |= dict.fromkeys(rows.values_list(column, flat=True).distinct(), _needed_by(name))
        return found

    def told(self, values: Mapping[str, Any]) -> list[tuple[str, str, str]]:
        """The values of a new row, in words."""
        return [
            (str(self.words[name]), "", self.said(name, value))
            for name, value in values.items()
            if name in self.words and value not in ("", None, False, []) and not self._points(name)
        ]

    def compared(
        self, before: Mapping[str, Any], after: Mapping[str, Any], texts: Mapping[str, tuple[str, str]]
    ) -> list[tuple[str, str, str]]:
        """What changes, in words."""
        return [
            (
                str(self.words.get(name, self._field(name).verbose_name.capitalize())),
                *texts.get(name, (self.said(name, before[name]), self.said(name, value))),
            )
            for name, value in after.items()
        ]

    def said(self, name: str, value: Any) -> str:
        if isinstance(value, bool):
            return _("yes") if value else _("no")
        if value and self._points(name):
            return _("another")
        if isinstance(value, list):
            return str(len(value)) if value else _("nothing")
        choices = dict(getattr(self._field(name), "flatchoices", ()))
        return str(choices.get(value, value))[:LONGEST_WORD] if value not in ("", None) else _("nothing")

    @property
    def _columns(self) -> list[str]:
        return [field.attname for field in self.model._meta.concrete_fields]

    def _rows(self, pks: Iterable[UUID]) -> "models.QuerySet[models.Model]":
        return self.model._base_manager.filter(pk__in=list(pks))

    def _field(self, name: str) -> Any:
        """By the name of the field or of its column."""
        found = {field.attname: field for field in self.model._meta.concrete_fields}
        return found.get(name) or self.model._meta.get_field(name)

    def _points(self, name: str) -> bool:
        """An identifier, which tells people nothing."""
        return isinstance(self._field(name), models.ForeignKey)

    def _attname(self, name: str) -> str:
        return str(getattr(self._field(name), "attname", name))

    def _python(self, name: str, value: Any) -> Any:
        return self._field(name).to_python(value)

    def _pairs(self, many: Any, pks: Iterable[UUID]) -> Iterator[tuple[UUID, UUID]]:
        here, there = many.m2m_field_name(), many.m2m_reverse_field_name()
        rows = many.remote_field.through._base_manager.filter(**{f"{here}__in": list(pks)})
        yield from rows.values_list(f"{here}_id", f"{there}_id")

    def _set_many(self, rows: Mapping[UUID, Values]) -> None:
        for many in self.model._meta.many_to_many:
            wanted = {pk: values[many.name] for pk, values in rows.items() if many.name in values}
            if not wanted:
                continue
            here, there = many.m2m_field_name(), many.m2m_reverse_field_name()
            through: Any = many.remote_field.through
            through._base_manager.filter(**{f"{here}__in": list(wanted)}).delete()
            through._base_manager.bulk_create(
                through(**{f"{here}_id": pk, f"{there}_id": other})
                for pk, others in wanted.items()
                for other in others
            )

    def _taken(
        self, columns: Sequence[str], free: tuple[Any, ...], wanted: Mapping[UUID, Values]
    ) -> dict[UUID, str]:
        """Rows whose values in columns that tell rows apart are another row's."""
        keys = {
            pk: key
            for pk, key in self._keys(columns, wanted).items()
            if not any(value in free for value in key)
        }
        among = {f"{name}__in": {key[place] for key in keys.values()} for place, name in enumerate(columns)}
        rows = self.model._base_manager.filter(**among).order_by().values_list("pk", *columns)
        taken = {tuple(plain(value) for value in key): pk for pk, *key in rows} if keys else {}
        return {
            pk: _("Another one like it is on record by now")
            for pk, key in keys.items()
            if taken.get(key, pk) != pk
        }

    def _keys(self, columns: Sequence[str], wanted: Mapping[UUID, Values]) -> dict[UUID, tuple[Any, ...]]:
        """Of rows that say one of these columns anew; what they leave out stays as it is in the database."""
        touched = {pk: values for pk, values in wanted.items() if values.keys() & set(columns)}
        partly = [pk for pk, values in touched.items() if not set(columns) <= values.keys()]
        stored = self.states(partly) if partly else {}
        return {
            pk: tuple({**stored.get(pk, {}), **values}.get(name) for name in columns)
            for pk, values in touched.items()
        }

    def _astray(self, wanted: Mapping[UUID, Values]) -> dict[UUID, str]:
        found: dict[UUID, str] = {}
        for key in self.model._meta.concrete_fields:
            if not isinstance(key, models.ForeignKey):
                continue
            named = {pk: values[key.attname] for pk, values in wanted.items() if values.get(key.attname)}
            found |= _missing(named, key.related_model, str(key.verbose_name))
        for many in self.model._meta.many_to_many:
            pairs = {(pk, one): one for pk, values in wanted.items() for one in values.get(many.name, ())}
            lost = _missing(pairs, many.related_model, str(many.related_model._meta.verbose_name))
            found = {pk: sentence for (pk, _one), sentence in lost.items()} | found
        return found


def _missing(named: Mapping[Any, Any], table: Any, words: str) -> dict[Any, str]:
    if not named:
        return {}
    there = table._base_manager.filter(pk__in=set(map(str, named.values()))).values_list("pk", flat=True)
    known = {str(pk) for pk in there}
    return {
        at: _("Its {thing} is not on record any more").format(thing=words)
        for at, pk in named.items()
        if str(pk) not in known
    }


def _pointing(relation: Any) -> tuple[Any, str]:
    """The table that points at a row, and by which column."""
    if relation.many_to_many:
        through = relation.through
        return through, f"{relation.field.m2m_reverse_field_name()}_id"
    return relation.related_model, relation.field.attname


def plain(value: Any) -> Any:
    """A value of the database as JSON holds it."""
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, bytes | memoryview):
        return True
    return value


def digest_of(values: Mapping[str, Any]) -> str:
    """By which a row is known to be as it was."""
    return hashlib.sha256(json.dumps(values, sort_keys=True, default=str).encode()).hexdigest()[:32]


def _needed_by(thing: str) -> str:
    return _("{a_thing} needs it").format(a_thing=an(thing))


def an(noun: str) -> str:
    """
    >>> an("order line"), an("housing")
    ('An order line', 'A housing')
    """
    if not (get_language() or "en").startswith("en"):
        return noun  # its article would follow its gender
    return f"{'An' if noun[:1].lower() in 'aeiou' else 'A'} {noun}"


def holds_secrets(model: type[models.Model]) -> bool:
    return any(isinstance(field, SealedField) for field in model._meta.concrete_fields)
