"""The database of every release goes forward to today: rows, rules, triggers and history come along."""

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models.signals import post_migrate
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from keyctl import __version__
from keyctl.accounts.models import User
from keyctl.audit import guards
from keyctl.audit.checking import check_history
from keyctl.audit.models import Event
from keyctl.audit.services import record
from keyctl.cores.models import Core
from keyctl.feed.models import Change
from keyctl.operations.backup.tables import applied_migrations, own_migrations
from keyctl.operations.looking import look_at_everything
from keyctl.places.models import Door, Membership
from keyctl.search.models import Stale
from tests.cast import Cast
from tests.releases import versions
from tests.releases.standing import (
    Row,
    Rows,
    Shape,
    every_row,
    how_it_is_made,
    lost,
    released_database,
    take_signatures,
)

# Django's own migrations name other numbers than its models; its table of migrations is no model.
NOT_OURS = ("auth_", "django_migrations")

# Filled from the rest after `migrate`.
MADE_ANEW = {"feed_beginning", "feed_change", "search_keeper", "search_stale"}
# What a migration took away on purpose: whoever was signed in signs in once more.
TAKEN = {"0.8.0": {"django_session"}}
# Nothing stays there: notes are gone before a transaction ends, and what is stale is read before a search.
NEVER_FILLED = {"feed_note", "search_stale"}
# Where the scenes of that release looked at no pins: a row made up would contradict its history.
EMPTY = {"0.9.0": {"reveals_reveal"}}
# For each migration Django makes all models anew, so the way from the first releases is long. On PostgreSQL
# the tests go from every release; on SQLite from the last two, or from all with KEYCTL_EVERY_RELEASE=1.
MANY = connection.vendor == "postgresql" or bool(os.environ.get("KEYCTL_EVERY_RELEASE"))


@pytest.fixture(params=versions() if MANY else versions()[-2:])
def version(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def by_migrations(db: None, settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tables as an installation gets them, and no keys of the tests' own."""
    settings.MIGRATION_MODULES = {}
    others = [each for each in post_migrate.receivers if each[0][0] != "the tests' vault keys"]
    assert len(others) < len(post_migrate.receivers)
    monkeypatch.setattr(post_migrate, "receivers", others)


@dataclass(frozen=True)
class Upgraded:
    """What stood there, and how it is made now that it went forward, beside what is made from the models."""

    database: BaseDatabaseWrapper
    before: Rows
    had: set[str]
    made: Shape
    wanted: Shape


@pytest.fixture
def upgraded(  # noqa: PLR0917 (fixtures)
    db: None,
    version: str,
    by_migrations: None,
    settings: Settings,
    tmp_path: Path,
    django_db_blocker: Any,
) -> Iterator[Upgraded]:
    own = connections["default"]
    take_signatures(version, own.vendor, settings, tmp_path)
    with django_db_blocker.unblock():
        wanted = how_it_is_made(own)
        with released_database(version, tmp_path) as database:
            before, had = every_row(database), set(applied_migrations(database))
            call_command("migrate", verbosity=0)
            yield Upgraded(database, before, had, how_it_is_made(database), wanted)


def test_it_goes_forward(version: str, upgraded: Upgraded, client: Client) -> None:
    """One database for all questions: making it is what takes time."""
    assert sorted(applied_migrations(upgraded.database)) == own_migrations()
    assert (upgraded.had < set(own_migrations())) or version == __version__
    assert empty_tables(upgraded.before) <= NEVER_FILLED | EMPTY.get(version, set())
    assert lost_tables(upgraded) == {table: ["the table"] for table in TAKEN.get(version, ())}
    assert differences(upgraded) == {}
    assert list(check_history()) == []
    assert [each.sentences for each in look_at_everything().breached] == []
    history_still_refuses()
    changes_are_listed_and_found()
    pages_open(client)
    assert list(check_history()) == []


def lost_tables(upgraded: Upgraded) -> dict[str, list[str]]:
    found = lost(upgraded.before, every_row(upgraded.database))
    return {table: what for table, what in found.items() if table not in MADE_ANEW}


def empty_tables(rows: Rows) -> set[str]:
    """SQLite's own, for what ANALYZE learns, are there or not as it was built."""
    return {table for table, found in rows.items() if not found and not table.startswith("sqlite_")}


def differences(upgraded: Upgraded) -> dict[str, set[str]]:
    """By kind, what stands in one of both only."""
    kinds = upgraded.wanted
    assert all(len(kinds[kind]) > 20 for kind in kinds)
    found = {kind: ours(kinds[kind]) ^ ours(upgraded.made[kind]) for kind in kinds}
    return {kind: words for kind, words in found.items() if words}


def ours(words: set[str]) -> set[str]:
    return {each for each in words if not each.startswith(NOT_OURS)}


def history_still_refuses() -> None:
    event = Event.objects.all()[0]
    for act in ("UPDATE audit_event SET verb = verb", "DELETE FROM audit_event"):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            tell(f"{act} WHERE id = %s", event.pk)


def tell(statement: str, *values: Any) -> None:
    """Past every rule of the program."""
    with connections["default"].cursor() as cursor:
        cursor.execute(statement, values)


def changes_are_listed_and_found() -> None:
    """By the triggers of feed and search, for the write goes past every service."""
    door = Door.objects.all()[0]
    Door.objects.filter(pk=door.pk).update(name="Room behind the stairs")
    newest = Change.objects.order_by("-sequence")[0]
    assert (newest.kind, newest.thing) == ("door", door.pk)
    assert Stale.objects.filter(kind="door", thing=door.pk).exists()
    record(actor=None, verb="test.went_on", sentence="went on")


def pages_open(client: Client) -> None:
    client.force_login(User.objects.get(username="locksmith"))
    core = Core.objects.filter(place="housing").order_by("pk")[0]
    for address in ("/", reverse("cores:detail", args=[core.pk])):
        assert client.get(address).status_code == 200, address


def test_every_release_that_was_kept_is_tried() -> None:
    assert versions()[-1] == __version__
    assert len(versions()) > 2


def test_a_row_that_changed_is_found(cast: Cast) -> None:
    """The comparison sees what a careless migration would do, and forgives new tables, columns and rows."""
    own = connections["default"]
    before = every_row(own)
    User.objects.filter(pk=cast.desk.pk).update(display_name="Somebody else")
    Membership.objects.filter(user=cast.desk).delete()
    after = every_row(own)
    assert lost(before, after) == {
        "accounts_user": ["display_name"],
        "places_membership": ["id", "role", "user_id"],
    }
    assert "places_membership" not in lost(after, before)
    sites = before["places_site"]
    assert lost({"places_site": without(sites, "name")}, before) == {}
    assert lost(before, before | {"places_site": without(sites, "name")}) == {"places_site": ["name"]}
    assert lost({"places_site": sites}, {}) == {"places_site": ["the table"]}


def without(rows: "Counter[Row]", column: str) -> "Counter[Row]":
    """As if the table lacked it."""
    return Counter({tuple(each for each in row if each[0] != column): times for row, times in rows.items()})


def test_a_trigger_that_is_gone_is_found(db: None) -> None:
    own = connections["default"]
    wanted = how_it_is_made(own)
    guards.remove(own)
    made = how_it_is_made(own)
    guards.install(own)
    assert all("audit_" in words for words in wanted["trigger"] ^ made["trigger"])
    assert len(wanted["trigger"] - made["trigger"]) > 5
    assert how_it_is_made(own) == wanted
