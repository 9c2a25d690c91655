"""What an archive of the estate carries: every table but those that belong to one installation alone.

A new table is carried without a word here; what stays out is named with its reason.
"""

import base64
import secrets
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from uuid import UUID

from django.contrib.auth.hashers import make_password
from django.db import models

from keyctl.operations.backup.dumping import values_of
from keyctl.operations.backup.tables import Table, kept_tables
from keyctl.vault import services as vault
from keyctl.vault.fields import SealedField

SIGN_IN = "what people and programs sign in with is bound to the address and the secrets of one installation"
WORK = "what one installation's workers have in hand; its files are made again there"
ABOUT = "what one installation found out about itself"
OWN = "the program makes it by itself in every installation"
OTHERS = "other programs are told by one installation; a second one must not begin to tell them too"
VAULT = "keys of the vault: each installation has its own, and the archive holds what they sealed"

# By app, then by table.
LEFT_OUT_APPS = {
    "account": SIGN_IN,
    "api": SIGN_IN,
    "auth": OWN,
    "contenttypes": OWN,
    "django_tasks_database": WORK,
    "feed": OTHERS,
    "jobs": WORK,
    "mfa": SIGN_IN,
    "search": OWN,
    "sessions": SIGN_IN,
    "socialaccount": SIGN_IN,
    "vault": VAULT,
    "webhooks": OTHERS,
}
LEFT_OUT_TABLES = {
    "desk_calendarfeed": SIGN_IN,
    "operations_estatecheck": ABOUT,
    "operations_estatearchivefile": ABOUT,
}
# Columns by which somebody signs in: their rows come along, and open nothing until they are set anew.
WITHHELD: dict[tuple[str, str], Callable[[], str]] = {
    ("accounts_user", "password"): lambda: make_password(None),
    ("field_device", "digest"): lambda: secrets.token_hex(32),
}


@dataclass(frozen=True)
class Carried:
    """A table of the archive; a row is that of a backup, with sealed values open and some columns empty."""

    table: Table

    @property
    def columns(self) -> list[list[str]]:
        return [[name, self._kind_at(at)] for at, (name, _) in enumerate(self.table.columns)]

    def rows(self, using: str) -> Iterator[list[Any]]:
        for row in values_of(self.table, using):
            for at in self._empty:
                row[at] = None
            for at, name in self._sealed:
                row[at] = self._opened(row, at, name)
            yield row

    def sealed_anew(self, row: list[Any]) -> list[Any]:
        """The row as this installation keeps it: sealed by its own keys."""
        for at, make in self._withheld:
            row[at] = make()
        for at, name in self._sealed:
            if row[at] is not None:
                text = base64.b64decode(row[at])
                row[at] = base64.b64encode(vault.seal_bytes(self._holder(row), name, text)).decode()
        return row

    def _opened(self, row: list[Any], at: int, name: str) -> str | None:
        if row[at] is None:
            return None
        holder = self._holder(row)
        setattr(holder, name, base64.b64decode(row[at]))
        return base64.b64encode(vault.unseal_bytes(holder, name)).decode()

    def _holder(self, row: list[Any]) -> models.Model:
        """Stands for the row at the vault, which binds a value to its table, row and field."""
        return self.table.model(pk=UUID(row[self._pk]))

    def _kind_at(self, at: int) -> str:
        if at in self._empty:
            return "empty"
        return "sealed" if any(at == place for place, _ in self._sealed) else self.table.kinds[at].name

    @cached_property
    def _pk(self) -> int:
        return next(at for at, field in enumerate(self.table.fields) if field.primary_key)

    @cached_property
    def _sealed(self) -> list[tuple[int, str]]:
        fields = enumerate(self.table.fields)
        return [(at, field.attname) for at, field in fields if isinstance(field, SealedField)]

    @cached_property
    def _withheld(self) -> list[tuple[int, Callable[[], str]]]:
        places = {name: at for at, name in enumerate(self.table.names)}
        return [(places[name], make) for (table, name), make in WITHHELD.items() if table == self.table.name]

    @cached_property
    def _empty(self) -> set[int]:
        """Withheld, or pointing at a row that stays behind."""
        pointing = {at for at, field in enumerate(self.table.fields) if _points_outside(field)}
        return pointing | {at for at, _ in self._withheld}


def carried_tables() -> list[Carried]:
    """In the order of their names."""
    return [Carried(table) for table in kept_tables() if why_left_out(table) is None]


def why_left_out(table: Table) -> str | None:
    return LEFT_OUT_TABLES.get(table.name) or LEFT_OUT_APPS.get(table.model._meta.app_label)


def _points_outside(field: "models.Field[Any, Any]") -> bool:
    if not isinstance(field, models.ForeignKey):
        return False
    target = Table(field.related_model)
    return target.name not in {table.name for table in kept_tables()} or why_left_out(target) is not None
