"""The list outlives migrations; a restore and long absence make readers begin anew, and they are told so."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from keyctl.feed import services, triggers
from keyctl.feed.models import Beginning, Change
from keyctl.feed.selectors import BeginAnew, NoCursor, Reach, changes_since
from keyctl.operations.backup.loading import emptied
from keyctl.places.models import Door, Site
from tests import factories
from tests.cast import Cast
from tests.keyctl.feed.reading import Reader, number_what_waits


def test_somebody_who_was_away_for_too_long_begins_anew(cast: Cast) -> None:
    old, young = factories.make_door(cast.north), factories.make_door(cast.north)
    long_away, away = Reader([cast.north]), Reader([cast.north])
    long_away.read_on()
    old.delete()
    away.read_on()
    young.delete()
    number_what_waits()
    assert services.forget_what_is_long_gone(timezone.now()) == "Nothing is gone for so long."
    before = timezone.now() - services.GONE_IS_KEPT_FOR - timedelta(minutes=1)
    Change.objects.filter(
        thing__in=Change.objects.filter(deleted=True).order_by("sequence").values("thing")[:1]
    ).update(at=before)
    assert services.forget_what_is_long_gone(timezone.now()).endswith("forgotten: 1.")
    assert [pk for _, pk, gone in away.read_on() if gone]
    with pytest.raises(BeginAnew):
        long_away.read_on()
    # Who began with nothing need not know what was gone by then, however long reading takes.
    newcomer = Reader([cast.north], limit=2)
    newcomer.read_page()
    newcomer.read_on()
    assert newcomer.known == away.known


def test_numbers_go_on_where_the_last_change_was_long_ago(cast: Cast) -> None:
    """An estate where for a season nothing happened since something was removed."""
    kept, gone = factories.make_door(cast.north), factories.make_door(cast.north)
    reader = Reader([cast.north])
    reader.read_on()
    gone.delete()
    reader.read_on()
    Change.objects.update(at=timezone.now() - services.GONE_IS_KEPT_FOR - timedelta(minutes=1))
    services.forget_what_is_long_gone(timezone.now())
    Door.objects.filter(pk=kept.pk).update(name="North gate")
    assert ("door", kept.pk, False) in reader.read_on()


def test_a_cursor_of_another_list_of_other_sites_or_of_no_form(cast: Cast) -> None:
    reader = Reader([cast.north])
    factories.make_door(cast.north)
    reader.read_on()
    with pytest.raises(BeginAnew):
        Reader([cast.north, cast.south], cursor=reader.cursor).read_on()
    with pytest.raises(BeginAnew):
        Reader([cast.north], frozenset({"door"}), cursor=reader.cursor).read_on()
    reach = Reach(frozenset({cast.north.pk}), reader.kinds)
    for wrong in ("x", reader.cursor + "0" * 20, reader.cursor.replace("-", "_"), "'", "\x00"):
        with pytest.raises(NoCursor):
            changes_since(reach, wrong, 10)
    services.begin_anew(connection)
    with pytest.raises(BeginAnew):
        reader.read_on()
    newcomer = Reader([cast.north])
    newcomer.read_on()
    assert newcomer.known == reader.known


def test_a_restore_begins_anew_and_lists_what_it_brought(cast: Cast) -> None:
    """By the way that a backup and an archive come in: no trigger hears of their rows."""
    door, reader = factories.make_door(cast.north), Reader([cast.north])
    reader.read_on()
    with emptied(connection, []):
        made = Door.objects.create(floor=door.floor, number="restored")
    with pytest.raises(BeginAnew):
        reader.read_on()
    newcomer = Reader([cast.north])
    newcomer.read_on()
    assert newcomer.known == reader.known | {("door", made.pk)}
    assert triggers.are_sound(connection)


def test_triggers_that_are_gone_come_back_and_tell_what_was_missed(cast: Cast) -> None:
    kept, lost = factories.make_door(cast.north), factories.make_door(cast.north)
    reader, floor = Reader([cast.north]), lost.floor
    reader.read_on()
    assert services.watch_where_nobody_does(timezone.now()) == "Every table is watched."
    number_what_waits()
    triggers.remove(connection)
    gone = lost.pk
    lost.delete()
    made = Door.objects.create(floor=floor, number="N")
    assert "listed again" in services.watch_where_nobody_does(timezone.now())
    assert triggers.are_sound(connection)
    came = reader.read_on()
    assert {("door", gone, True), ("door", made.pk, False), ("door", kept.pk, False)} <= set(came)
    assert {pk for kind, pk in reader.known if kind == "door"} == {kept.pk, made.pk}
    pk = made.pk
    made.delete()
    assert reader.read_on() == [("door", pk, True)]


def names() -> set[str]:
    return set(triggers.present(connection))


def test_a_trigger_that_somebody_altered_is_found(cast: Cast) -> None:
    assert names() == set(triggers.wanted(connection.vendor))
    name, (table, _, _) = next(iter(triggers.wanted(connection.vendor).items()))
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            body = "$$BEGIN RETURN NULL; END$$"
            cursor.execute(f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS {body}")
        else:
            cursor.execute(f"DROP TRIGGER {name}")
            cursor.execute(f"CREATE TRIGGER {name} AFTER INSERT ON {table} BEGIN SELECT 1; END")
    assert not triggers.are_sound(connection)
    assert services.watch_again(connection)
    assert triggers.are_sound(connection)


@pytest.mark.skipif(connection.vendor != "sqlite", reason="SQLite copies tables to change them")
def test_a_table_may_be_made_anew_by_a_migration(db: None, tmp_path: Path) -> None:
    """From nothing; then as a migration changes a watched table: SQLite copies it and drops the old one."""
    from keyctl.operations.backup.snapshot import _connected, standing_on

    scratch = _connected(tmp_path / "keyctl.sqlite3", "PRAGMA synchronous=OFF;")
    try:
        with standing_on(scratch):
            _make_anew(scratch)
    finally:
        scratch.close()


def _make_anew(scratch: Any) -> None:
    call_command("migrate", run_syncdb=True, verbosity=0)
    assert triggers.are_sound(scratch)
    site = factories.make_site("NORTH")
    door, reader = factories.make_door(site), Reader([site])
    reader.read_on()
    with services.unwatched(scratch), scratch.schema_editor() as editor:
        editor._remake_table(Door)
    assert triggers.are_sound(scratch)
    Door.objects.filter(pk=door.pk).update(name="x")
    reader.read_on()
    assert reader.known == {("site", site.pk), *((kind, pk) for kind, pk in reader.known if kind != "site")}
    assert ("door", door.pk) in reader.known
    call_command("migrate", verbosity=0)
    assert Beginning.objects.count() == 1
    assert Site.objects.count() == 1
