"""What is entered is what is there, whoever changed it and how: held against reading everything anew."""

import random
from collections.abc import Callable
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection

from keyctl.accounts.models import User
from keyctl.cores.models import Core
from keyctl.feed import triggers
from keyctl.feed.services import watch_where_nobody_does
from keyctl.keys.models import Cabinet, Holder, KeyCopy, Person
from keyctl.operations.backup.loading import emptied
from keyctl.orders.models import WorkOrder
from keyctl.places.models import Building, Door, Floor, Housing, Membership, Space
from keyctl.search import services, telling
from keyctl.search.folding import marks
from keyctl.search.models import Entry, Posting, Stale, Trace, Word
from keyctl.search.services import bring_up_to_date, read_what_changed
from keyctl.search.sources import SOURCES, WHOLE
from keyctl.search.telling import answer
from keyctl.systems.models import KeySymbol, KeySystem
from tests import factories
from tests.api.estate import build
from tests.cast import Cast
from tests.keyctl.search.looking import finds, found

Rows = set[tuple[str, ...]]


def entered() -> Rows:
    return {tuple(map(str, row)) for row in Entry.objects.values_list("kind", "thing", "site", "words")}


def there() -> Rows:
    """Read from the tables, all of them."""
    rows: Rows = set()
    for kind, source in SOURCES.items():
        ids = list(source.model._default_manager.values_list("pk", flat=True))
        rows |= {(kind, *map(str, row)) for row in source.rows(ids)}
    return rows


def check_words() -> None:
    """Postings, words and traces say the same as the entries, and nothing besides."""
    texts = {row.id: (row.site, str(row)) for row in Word.objects.all()}
    sites = {row.id: row.site for row in Entry.objects.all()}
    posted = {(*texts[word], entry) for word, entry in Posting.objects.values_list("word", "entry")}
    wanted = {
        (sites[row.id], word[1:], row.id) for row in Entry.objects.all() for word in row.words.split(" ")
    }
    assert posted == wanted
    assert {(site, text) for site, text, _ in wanted} == set(texts.values())
    traced = set(Trace.objects.values_list("mark", "word"))
    known = {number: text for number, (_, text) in texts.items() if not text.startswith(WHOLE)}
    assert traced == {(mark, number) for number, text in known.items() for mark in marks(text)}


@pytest.fixture
def estate(cast: Cast) -> Any:
    made = build(cast.north, cast.locksmith)
    build(cast.south, cast.stranger)
    assert bring_up_to_date()
    return made


def test_all_that_is_there_is_entered_and_nothing_else(estate: Any) -> None:
    assert entered() == there()
    assert {kind for kind, *_ in entered()} == SOURCES.keys() - {"person"}
    check_words()


def first(model: Any) -> Any:
    return model.objects.order_by("pk")[0].pk


def clear_some(rng: random.Random) -> None:
    for door in Door.objects.all()[: rng.randrange(2)]:
        door.spaces.clear()


def join_all(_rng: random.Random) -> None:
    for space in Space.objects.all():
        space.doors.set(Door.objects.filter(floor=space.floor))


def save_all(_rng: random.Random) -> None:
    for cabinet in Cabinet.objects.all():
        cabinet.save()


CHANGES: list[Callable[[random.Random], Any]] = [
    lambda rng: Door.objects.filter(number__gt="").update(name=f"Room {rng.randrange(99)}"),
    lambda rng: Building.objects.update(name=f"House {rng.randrange(99)}"),
    lambda rng: Space.objects.update(name=f"Laboratory {rng.randrange(99)}"),
    clear_some,
    join_all,
    lambda rng: KeySystem.objects.update(name=f"System {rng.randrange(99)}"),
    save_all,
    lambda rng: KeySymbol.objects.filter(level=0).update(symbol=f"Q{rng.randrange(99)}"),
    lambda rng: KeyCopy.objects.filter(pk=KeyCopy.objects.order_by("serial")[0].pk).update(
        stamp=f"S{rng.randrange(99)}"
    ),
    lambda rng: Holder.objects.update(name=f"Person {rng.randrange(99)}"),
    lambda rng: Person.objects.create(display_name=f"Somebody {rng.randrange(99)}"),
    lambda _: Person.objects.all().delete(),
    lambda rng: User.objects.filter(username="desk").update(display_name=f"Desk {rng.randrange(99)}"),
    lambda _: Membership.objects.filter(role="auditor").delete(),
    lambda rng: WorkOrder.objects.update(title=f"Swap {rng.randrange(99)}"),
    lambda _: Space.objects.filter(doors=None).delete(),
    lambda rng: factories.make_door(floor=Floor.objects.order_by("pk")[0], number=f"N{rng.random()}"),
    lambda _: Door.objects.filter(number__startswith="N").delete(),
    lambda _: Core.objects.filter(place="bench").update(place="shelf"),
]


def test_whatever_changes_is_read_again(estate: Any) -> None:
    """By queries, in bulk and row by row; after each the entries are those of reading everything."""
    rng = random.Random(9)
    for change in [*CHANGES, *rng.choices(CHANGES, k=25)]:
        change(rng)
        bring_up_to_date()
        assert entered() == there()
    check_words()


def test_a_system_that_leaves_a_site_leaves_with_its_keys(estate: Any, cast: Cast) -> None:
    estate.system.sites.add(cast.south)
    bring_up_to_date()
    both = entered()
    assert both == there()
    estate.system.sites.remove(cast.south)
    bring_up_to_date()
    assert entered() == there()
    assert entered() < both


def test_what_says_nothing_of_words_costs_nothing(estate: Any) -> None:
    core = estate.core
    core.version += 1
    core.save(update_fields=["version", "place"])
    KeyCopy.objects.filter(pk=estate.copy.pk).update(version=9)
    Holder.objects.update(email="a@b.example")
    Housing.objects.update(label="Lower")
    Door.objects.update(note="The spare key lies under the mat", is_egress=True)
    assert not Stale.objects.exists()


def test_a_name_is_gone_from_every_table_when_nobody_bears_it(estate: Any, cast: Cast) -> None:
    holder = factories.make_holder(cast.north, name="Wilhelmina Featherstonehaugh")
    assert finds(cast.desk, "featherstonehaugh", holder)
    number = Word.objects.get(text=b"featherstonehaugh").id
    holder.name = "Somebody who left"
    holder.save(update_fields=["name"])
    assert not found(cast.desk, "featherstonehaugh")
    assert not Word.objects.filter(text__in=[b"featherstonehaugh", b"wilhelmina"]).exists()
    assert not Trace.objects.filter(word=number).exists()
    assert not Entry.objects.filter(words__contains="featherstone").exists()
    check_words()


def test_the_worker_reads_what_nobody_searched_for(estate: Any, cast: Cast) -> None:
    Door.objects.update(name="Boathouse")
    assert read_what_changed() == "Changed things read for the search: 2."
    assert not Stale.objects.exists()
    assert entered() == there()


def test_the_latest_change_is_read_first_where_there_are_many(
    estate: Any, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(services, "BEFORE_A_SEARCH", 3)
    floor = factories.make_floor(cast.north)
    Door.objects.bulk_create([Door(floor=floor, number=f"{nth}", name="Cellar") for nth in range(20)])
    last = factories.make_door(floor=floor, number="99", name="Boathouse")
    assert not bring_up_to_date(3)
    assert Entry.objects.filter(thing=last.pk).exists()
    read_what_changed()
    assert entered() == there()


def test_all_is_read_anew_by_a_command(estate: Any) -> None:
    before = entered()
    Entry.objects.all().delete()
    out = StringIO()
    call_command("rebuild_search", stdout=out)
    assert entered() == before
    assert out.getvalue() == f"Entries: {len(before)}.\n"
    check_words()


def test_a_restore_reads_what_it_brought(estate: Any, cast: Cast) -> None:
    """By the way that a backup and an archive come in: no trigger hears of their rows."""
    with emptied(connection, []):
        made = Door.objects.create(floor=estate.door.floor, number="restored")
        Person.objects.create(display_name="Restored")
    assert not Entry.objects.exists()
    assert finds(cast.locksmith, "restored", made)
    assert entered() == there()


def test_triggers_that_are_gone_come_back_and_what_was_missed_is_read(estate: Any, cast: Cast) -> None:
    triggers.remove(connection)
    Door.objects.filter(pk=estate.door.pk).update(name="Boathouse")
    made = factories.make_door(cast.north, number="missed")
    assert not found(cast.locksmith, "boathouse")
    assert "listed again" in watch_where_nobody_does(None)  # type: ignore[arg-type]
    assert triggers.are_sound(connection)
    assert finds(cast.locksmith, "boathouse", estate.door)
    assert finds(cast.locksmith, "missed", made)


def test_where_nothing_can_be_written_what_is_known_is_searched(
    estate: Any, cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full() -> bool:
        raise DatabaseError("database or disk is full")

    monkeypatch.setattr(telling, "bring_up_to_date", full)
    told = answer(cast.locksmith, estate.door.number)
    assert not told.is_current
    assert told.rows[0].thing == estate.door.pk


def test_no_secret_and_no_address_is_entered(estate: Any) -> None:
    """What the vault holds of the estate, and what stands in notes, reasons and mail."""
    from keyctl.vault import services as vault

    Door.objects.update(note="under the mat")
    bring_up_to_date()
    words = {word[1:] for row in Entry.objects.all() for word in row.words.split(" ")}
    for key in KeySymbol.objects.all():
        bitting = vault.unseal(key, "bitting")
        assert not any("".join(filter(str.isalnum, bitting)) in word for word in words)
    assert not words & {"mat", "under", "rosaquill", "rosa", "quill", "exampleorg", "work"}
