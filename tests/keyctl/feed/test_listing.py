"""What is listed, and where: against what stands in the tables, whoever wrote it there and how."""

import random
from collections.abc import Callable
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.apps import apps
from django.db import connection, transaction

from keyctl.cores.models import Core
from keyctl.feed import triggers
from keyctl.feed.kinds import KINDS, WATCHES
from keyctl.feed.models import Change, Note
from keyctl.keys.models import Custody
from keyctl.orders.models import OrderLine, WorkOrder
from keyctl.places.models import Building, Door, Floor, Housing, Site, Space
from keyctl.systems.models import KeySystem
from tests import factories
from tests.api.estate import build
from tests.cast import Cast
from tests.keyctl.feed.reading import Reader, number_what_waits

# The way from a thing to its sites, as the models have it: another way than that of the triggers.
WAYS = {
    "site": ("places.Site", "id"),
    "building": ("places.Building", "site"),
    "floor": ("places.Floor", "building__site"),
    "space": ("places.Space", "floor__building__site"),
    "door": ("places.Door", "floor__building__site"),
    "housing": ("places.Housing", "door__floor__building__site"),
    "core": ("cores.Core", "site"),
    "key-system": ("systems.KeySystem", "sites"),
    "key": ("systems.KeySymbol", "system__sites"),
    "cabinet": ("keys.Cabinet", "site"),
    "key-copy": ("keys.KeyCopy", "site"),
    "holder": ("keys.Holder", "site"),
    "request": ("approvals.KeyRequest", "building__site"),
    "work-order": ("orders.WorkOrder", "site"),
}


def there(*sites: Site) -> set[tuple[str, UUID]]:
    found: set[tuple[str, UUID]] = set()
    for kind, (model, way) in WAYS.items():
        rows = apps.get_model(model).objects.filter(**{f"{way}__in": [site.pk for site in sites]})
        found |= {(kind, pk) for pk in rows.values_list("pk", flat=True)}
    return found


def test_the_first_pages_are_all_that_is_there(cast: Cast) -> None:
    build(cast.north, cast.locksmith)
    build(cast.south, cast.stranger)
    Space.objects.create(floor=Floor.objects.all()[0], number="1.01")
    for sites in ([cast.north], [cast.south], [cast.north, cast.south], []):
        reader = Reader(sites, limit=7)
        came = reader.read_on()
        assert reader.known == there(*sites)
        assert len(came) == len(reader.known)
        assert reader.numbers == sorted(set(reader.numbers))
        assert reader.read_on() == []
    assert {kind for kind, _ in there(cast.north)} == WAYS.keys() == KINDS.keys()


def test_what_changed_is_listed_once_where_it_changed_last(cast: Cast) -> None:
    door, other = factories.make_door(cast.north), factories.make_door(cast.north)
    reader = Reader([cast.north])
    reader.read_on()
    for nth in range(10):
        Door.objects.filter(pk=door.pk).update(name=f"Room {nth}")
        number_what_waits()
    other.save()
    number_what_waits()
    Door.objects.filter(pk=door.pk).update(name="Last")
    assert reader.read_on() == [("door", other.pk, False), ("door", door.pk, False)]
    assert Change.objects.filter(thing=door.pk).count() == 1


def in_bulk(cast: Cast) -> set[tuple[str, UUID]]:
    floor = factories.make_floor(cast.north)
    doors = Door.objects.bulk_create([Door(floor=floor, number=str(nth)) for nth in range(120)])
    building = floor.building
    return {("door", door.pk) for door in doors} | {("floor", floor.pk), ("building", building.pk)}


def twice_without_conflict(cast: Cast) -> set[tuple[str, UUID]]:
    floor = factories.make_floor(cast.north)
    doors = [Door(floor=floor, number="1"), Door(floor=floor, number="2")]
    doors[0].save()
    number_what_waits()
    Door.objects.bulk_create(doors, ignore_conflicts=True)
    return {("door", door.pk) for door in doors} | {("floor", floor.pk), ("building", floor.building_id)}


def by_hand(cast: Cast) -> set[tuple[str, UUID]]:
    door = factories.make_door(cast.north)
    number_what_waits()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE places_door SET name = 'x' WHERE number = %s", [door.number])
    return {("door", door.pk), ("floor", door.floor_id), ("building", door.building.pk)}


@pytest.mark.parametrize("write", [in_bulk, twice_without_conflict, by_hand])
def test_whoever_writes_and_however(write: Callable[[Cast], set[tuple[str, UUID]]], cast: Cast) -> None:
    reader = Reader([cast.north])
    reader.read_on()
    wanted = write(cast)
    came = reader.read_on()
    assert {(kind, pk) for kind, pk, gone in came if not gone} == wanted
    assert len(came) == len(wanted)
    assert not Note.objects.exists()


def test_what_is_gone_is_told_once_and_to_nobody_who_begins(cast: Cast) -> None:
    door = factories.make_door(cast.north)
    pk, reader, foreign = door.pk, Reader([cast.north]), Reader([cast.south])
    reader.read_on(), foreign.read_on()
    door.delete()
    assert reader.read_on() == [("door", pk, True)]
    assert reader.read_on() == foreign.read_on() == []
    newcomer = Reader([cast.north])
    assert ("door", pk, True) not in newcomer.read_on()
    # With the same identifier it may come back, as from an undone removal.
    Door.objects.create(pk=pk, floor=door.floor, number="9")
    assert reader.read_on() == newcomer.read_on() == [("door", pk, False)]


def test_what_goes_while_a_reader_begins_is_told(cast: Cast) -> None:
    doors = [factories.make_door(cast.north) for _ in range(6)]
    number_what_waits()
    reader = Reader([cast.north], frozenset({"door"}), limit=4)
    reader.read_page()
    gone = doors[0].pk
    doors[0].delete()
    reader.read_on()
    assert reader.known == {("door", door.pk) for door in doors[1:]}
    assert ("door", gone) not in reader.known


def a_building(site: Site) -> Any:
    housing = factories.make_housing(site)
    Space.objects.create(floor=housing.door.floor, number="1")
    return housing


def test_a_place_that_moves_takes_along_what_is_in_it(cast: Cast) -> None:
    housing = a_building(cast.north)
    north, south = Reader([cast.north]), Reader([cast.south])
    both = Reader([cast.north, cast.south])
    for reader in (north, south, both):
        reader.read_on()
    before = set(both.known)
    Building.objects.filter(pk=housing.door.building.pk).update(site=cast.south)
    assert {kind for kind, _, gone in north.read_on() if gone} == set(WAYS) & {
        "building",
        "floor",
        "space",
        "door",
        "housing",
    }
    south.read_on()
    assert all(not gone for _, _, gone in both.read_on())
    assert north.known == there(cast.north)
    assert south.known == there(cast.south)
    assert both.known == before == there(cast.north, cast.south)


@pytest.mark.parametrize("what", ["floor", "door", "housing", "core"])
def test_each_step_of_a_place_may_move(what: str, cast: Cast) -> None:
    housing, other = a_building(cast.north), a_building(cast.south)
    system = factories.make_system(cast.north, actor=cast.locksmith)
    core = factories.make_core(actor=cast.locksmith, site=cast.north, system=system, pinned=False)
    readers = [Reader([cast.north]), Reader([cast.south])]
    for reader in readers:
        reader.read_on()
    if what == "floor":
        Floor.objects.filter(pk=housing.door.floor_id).update(building=other.door.building)
    elif what == "door":
        Door.objects.filter(pk=housing.door_id).update(floor=other.door.floor)
    elif what == "housing":
        Housing.objects.filter(pk=housing.pk).update(door=other.door, label="moved")
    else:
        Core.objects.filter(pk=core.pk).update(site=cast.south)
    for reader in readers:
        assert reader.read_on()
        assert reader.known == there(*reader.sites)


def test_a_system_comes_to_a_site_with_its_keys_and_leaves_it(cast: Cast) -> None:
    system = factories.make_system(cast.north, actor=cast.locksmith)
    north, south, both = Reader([cast.north]), Reader([cast.south]), Reader([cast.north, cast.south])
    for reader in (north, south, both):
        reader.read_on()
    keys = {("key", pk) for pk in system.symbols.values_list("pk", flat=True)}
    system.sites.add(cast.south)
    assert {(kind, pk) for kind, pk, _ in south.read_on()} == {*keys, ("key-system", system.pk)}
    both.read_on()
    system.sites.remove(cast.south)
    assert all(gone for *_, gone in south.read_on())
    assert not south.known & keys
    # Of two sites it is still at one.
    assert all(not gone for *_, gone in both.read_on())
    assert keys < both.known == there(cast.north, cast.south)
    north.read_on()
    assert north.known == there(cast.north)


def test_what_belongs_to_a_thing_changes_it(cast: Cast) -> None:
    estate = build(cast.north, cast.locksmith)
    space = Space.objects.create(floor=estate.door.floor, number="1")
    reader = Reader([cast.north])
    reader.read_on()

    def changed(act: Callable[[], Any]) -> set[tuple[str, UUID]]:
        act()
        return {(kind, pk) for kind, pk, _ in reader.read_on()}

    line = OrderLine.objects.get(order=estate.order)
    assert changed(lambda: estate.door.spaces.add(space)) == {("door", estate.door.pk)}
    assert changed(line.save) == {("work-order", estate.order.pk)}
    custody = Custody.objects.filter(copy=estate.copy)
    assert changed(lambda: custody.update(condition_back="x")) == {("key-copy", estate.copy.pk)}
    assert changed(lambda: estate.request.steps.update(ordinal=7)) == {("request", estate.request.pk)}
    other = factories.make_housing(cast.north)
    reader.read_on()
    moved = changed(lambda: Core.objects.filter(pk=estate.core.pk).update(housing=other))
    assert moved == {("core", estate.core.pk), ("housing", estate.housing.pk), ("housing", other.pk)}
    pinned = changed(lambda: Core.objects.filter(pk=estate.core.pk).update(version=9))
    assert pinned == {("core", estate.core.pk)}


def test_what_a_savepoint_takes_back_is_not_listed(cast: Cast) -> None:
    reader = Reader([cast.north])
    reader.read_on()
    place = transaction.savepoint()
    factories.make_door(cast.north)
    transaction.savepoint_rollback(place)
    assert reader.read_on() == []


def test_a_random_life_against_the_tables(cast: Cast) -> None:
    """Many small steps; after each some reader reads a page or all. In the end all know what is there."""
    luck = random.Random(8)
    floors = [factories.make_floor(site) for site in (cast.north, cast.north, cast.south)]
    readers = [Reader([cast.north], limit=3), Reader([cast.south], limit=5), Reader([cast.north, cast.south])]
    for _ in range(150):
        doors = list(Door.objects.all())
        act = luck.choice(["add", "add", "rename", "move", "remove", "building"])
        if act == "add" or not doors:
            Door.objects.create(floor=luck.choice(floors), number=uuid4().hex[:8])
        elif act == "rename":
            Door.objects.filter(pk__in=[each.pk for each in luck.sample(doors, len(doors) // 2)]).update(
                name="x"
            )
        elif act == "move":
            Door.objects.filter(pk=luck.choice(doors).pk).update(floor=luck.choice(floors))
        elif act == "building":
            site = luck.choice([cast.north, cast.south])
            Building.objects.filter(pk=luck.choice(floors).building_id).update(site=site)
        else:
            luck.choice(doors).delete()
        number_what_waits()
        luck.choice(readers).read_page()
    for reader in readers:
        reader.read_on()
        assert reader.known == there(*reader.sites)
        assert reader.numbers == sorted(set(reader.numbers))


def test_every_table_that_is_watched_is_there_and_every_kind_is_watched(db: None) -> None:
    tables = {model._meta.db_table for model in apps.get_models(include_auto_created=True)}
    assert {watch.table for watch in WATCHES} | {kind.table for kind in KINDS.values()} <= tables
    assert {watch.table for watch in WATCHES if watch.column == "id"} >= {
        apps.get_model(model)._meta.db_table for model, _ in WAYS.values()
    }
    assert triggers.are_sound(connection)
    assert WorkOrder.objects.count() == KeySystem.objects.count() == 0
