"""What a backup holds: the rows of every table, but those by which somebody is signed in."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.apps import apps
from django.db import models
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from keyctl.operations.backup.values import BYTES, JSON, Kind, kind_of

# Who is signed in, ways back that were made, what limits counted: after a restore everybody signs in again.
# What the feed lists is made from the rest, and whoever read it begins anew; so is what is searched.
LEFT_OUT = {
    "accounts_session",
    "accounts_tally",
    "accounts_wayback",
    "django_session",
    "feed_beginning",
    "feed_change",
    "feed_note",
    "search_entry",
    "search_keeper",
    "search_posting",
    "search_stale",
    "search_trace",
    "search_word",
}


@dataclass(frozen=True)
class Table:
    model: type[models.Model]

    @property
    def name(self) -> str:
        return self.model._meta.db_table

    @cached_property
    def fields(self) -> "list[models.Field[Any, Any]]":
        return list(self.model._meta.concrete_fields)

    @cached_property
    def kinds(self) -> list[Kind]:
        return [kind_of(field) for field in self.fields]

    @property
    def columns(self) -> list[list[str]]:
        """As they stand in the file."""
        return [[name, kind.name] for name, kind in zip(self.names, self.kinds, strict=True)]

    @cached_property
    def has_json(self) -> bool:
        return JSON in self.kinds

    @cached_property
    def has_bytes(self) -> bool:
        return BYTES in self.kinds

    @property
    def names(self) -> list[str]:
        return [str(field.column) for field in self.fields]


def all_tables() -> list[Table]:
    """In the order of their names."""
    found = {
        model._meta.db_table: Table(model)
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy
    }
    return [found[name] for name in sorted(found)]


def kept_tables() -> list[Table]:
    return [table for table in all_tables() if table.name not in LEFT_OUT]


def applied_migrations(connection: Any) -> list[str]:
    """Without those of apps that keyctl once had."""
    apps_here = {each.split(" ")[0] for each in own_migrations()}
    applied = MigrationRecorder(connection).applied_migrations()
    return sorted(f"{app} {name}" for app, name in applied if app in apps_here)


def own_migrations() -> list[str]:
    """Those that this program brings along."""
    return sorted(f"{app} {name}" for app, name in MigrationLoader(None).disk_migrations or {})


def note_all_migrations(connection: Any) -> None:
    """For tables that were made from the models, which is where all migrations lead."""
    recorder = MigrationRecorder(connection)
    recorder.ensure_schema()
    rows = [
        recorder.Migration(**dict(zip(("app", "name"), each.split(" "), strict=True)))
        for each in own_migrations()
    ]
    recorder.migration_qs.bulk_create(rows)
