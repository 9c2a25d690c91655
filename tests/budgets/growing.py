"""An estate made several times as large in every direction, whatever tables there are.

A round copies the rows of about half of the tables and keeps the others; what a copied row points at is the
copy, or the kept row itself. No table's rounds are part of another's, so for any two tables there is a round
in which one is copied and the other kept: every thing gets more of all that may hang on it, and each of those
is as full as the first. What a constraint allows once (settings of a site) stays once.
"""

import json
import re
from copy import copy
from itertools import combinations
from typing import Any
from uuid import UUID, uuid4

from django.apps import apps
from django.db import connection, models

from keyctl.audit.models import Event, EventSubject
from keyctl.places.models import Membership, Site
from keyctl.vault.fields import SealedField
from keyctl.vault.services import seal_bytes, unseal_bytes
from tests.budgets.uniqueness import Unique, uniques

# Five rounds of ten for each table: 252 tables can be told apart.
ROUNDS, COPIED = 10, 5
# Numbers that tell rows apart go up by this in each round.
STEP = 200
FAR = 10_000_000
IDENTIFIER = re.compile(rb"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
# What is one for the whole installation, or made by triggers from the rest.
LEFT = {"audit.Link", "audit.Head", "vault.DataKey", "places.Site", "accounts.Session", "accounts.Tally"}
LEFT_APPS = {"feed", "search", "contenttypes", "auth", "django_tasks_database"}

Key = tuple[type[models.Model], Any]


def grown() -> list[type[models.Model]]:
    every = sorted(apps.get_models(), key=lambda model: model._meta.label)
    return [
        model for model in every if model._meta.label not in LEFT and model._meta.app_label not in LEFT_APPS
    ]


class Estate:
    """The rows that were there at first; each ``grow`` adds as much again."""

    def __init__(self) -> None:
        self.rows = {model: list(model._base_manager.all()) for model in grown()}
        self.sealed = {
            (type(row), row.pk, field.name): unseal_bytes(row, field.name)
            for rows in self.rows.values()
            for row in rows
            for field in row._meta.concrete_fields
            if isinstance(field, SealedField) and getattr(row, field.attname)
        }
        self.places = dict(zip(self.rows, combinations(range(ROUNDS), COPIED), strict=False))
        # What an event is about is said with it, and never after.
        self.places[EventSubject] = self.places[Event]
        self.rounds = 0

    def grow(self, times: int) -> None:
        for nth in range(times * ROUNDS):
            self.rounds += 1
            copied = [model for model in self.rows if nth % ROUNDS in self.places[model]]
            _Round(self, copied).write()
        for _ in range(times):
            _add_site(self)


def _add_site(estate: Estate) -> None:
    """Everybody has there what they have at the first site."""
    first = Site.objects.order_by("code")[0]
    number = Site.objects.count()
    site = Site.objects.create(code=f"{first.code}{number}", name=f"{first.name} {number}")
    held = [row for row in estate.rows[Membership] if isinstance(row, Membership) and row.site_id == first.pk]
    Membership.objects.bulk_create(Membership(user_id=row.user_id, site=site, role=row.role) for row in held)


class _Round:
    def __init__(self, estate: Estate, models_copied: list[type[models.Model]]) -> None:
        self.estate, self.number = estate, estate.rounds
        self.copies: dict[Key, Any] = {
            (model, row.pk): _new_key(row, self.number)
            for model in models_copied
            for row in estate.rows[model]
        }
        self._leave_what_may_be_once(models_copied)
        self.identifiers = {old: new for (_, old), new in self.copies.items() if isinstance(old, UUID)}

    def _leave_what_may_be_once(self, models_copied: list[type[models.Model]]) -> None:
        """Until nothing is left whose copy a constraint would refuse; others then point at the row itself."""
        once = [
            (row, unique)
            for model in models_copied
            for unique in uniques(model)
            if not unique.changed
            for row in self.estate.rows[model]
            if unique.holds(row)
        ]
        while refused := [
            row
            for row, unique in once
            if (type(row), row.pk) in self.copies and not self._differs(row, unique)
        ]:
            for row in refused:
                self.copies.pop((type(row), row.pk), None)

    def _differs(self, row: models.Model, unique: Unique) -> bool:
        return any(self._target(row, field) in self.copies for field in unique.fields)

    def _target(self, row: models.Model, field: models.Field[Any, Any]) -> Key | None:
        value = getattr(row, field.attname)
        if field.remote_field:
            return field.remote_field.model, value
        if not isinstance(value, UUID):
            return None
        return next(((model, value) for model in self.estate.rows if (model, value) in self.copies), None)

    def write(self) -> None:
        """Not by the model's own manager: what history or the vault add to a row stands in it already."""
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                # Copies point at each other, and none is the first.
                cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        for model, rows in self.estate.rows.items():
            copies = [self._copy(row) for row in rows if (model, row.pk) in self.copies]
            plain: models.QuerySet[Any] = models.QuerySet(model)
            plain.bulk_create(copies)

    def _copy(self, row: models.Model) -> models.Model:
        made = copy(row)
        made._state = models.base.ModelState()
        for field in row._meta.concrete_fields:
            setattr(made, field.attname, self._value(row, field))
        for unique in uniques(type(row)):
            if (own := unique.changed) and unique.holds(row):
                setattr(made, own.attname, _another(own, getattr(row, own.attname), self.number))
        self._seal(row, made)
        return made

    def _value(self, row: models.Model, field: models.Field[Any, Any]) -> Any:
        value = getattr(row, field.attname)
        if field.primary_key:
            return self.copies[type(row), row.pk]
        if field.remote_field:
            return self.copies.get((field.remote_field.model, value), value)
        if isinstance(field, models.UUIDField):
            return self.identifiers.get(value, value)
        if isinstance(field, models.JSONField):
            return json.loads(self._renamed(json.dumps(value).encode()))
        return value

    def _seal(self, row: models.Model, made: models.Model) -> None:
        for field in row._meta.concrete_fields:
            if text := self.estate.sealed.get((type(row), row.pk, field.name)):
                setattr(made, field.attname, seal_bytes(made, field.name, self._renamed(text)))

    def _renamed(self, text: bytes) -> bytes:
        def new(found: re.Match[bytes]) -> bytes:
            old = UUID(found[0].decode())
            return str(self.identifiers.get(old, old)).encode()

        return IDENTIFIER.sub(new, text)


def _new_key(row: models.Model, number: int) -> Any:
    return uuid4() if isinstance(row.pk, UUID) else FAR * number + row.pk


def _another(field: models.Field[Any, Any], value: Any, number: int) -> Any:
    """A value that no earlier round gave."""
    if isinstance(value, int):
        return value + STEP * number
    if isinstance(value, UUID):
        return uuid4()
    if isinstance(value, bytes | memoryview):
        return bytes(value)[:-2] + number.to_bytes(2)
    ending = f"{number:x}"
    return f"{value[: (field.max_length or FAR) - len(ending) - 1]}-{ending}"
